//! The fixture's firmware as code for a Cortex-M33, run by an emulator; its bus ends at a simulated bench.
//!
//! Only the bus controller and the pins differ from the real board: they are a tunnel to the process that plays the
//! bench. Drivers, guard, sequencer, link and store are the same library and run as the same machine code.
//!
//! | file | noun |
//! |---|---|
//! | [`board`] | what the firmware asks of a board |
//! | [`bus`], [`flash`] | the two things at the tunnel's far end |
//! | [`tunnel`], [`words`] | questions and answers; the clock |
//! | [`semihosting`] | two byte streams out of the emulator |
//! | [`registers`] | timer, serial port, watchdog of the emulated machine |
//! | [`stack`], [`failure`] | what watches over the program itself |
//! | [`kept`] | what outlives a reset |
//! | [`log`] | log lines |
#![no_std]
#![no_main]

mod board;
mod bus;
mod failure;
mod flash;
mod kept;
mod log;
mod registers;
mod semihosting;
mod stack;
mod tunnel;
mod words;

use board::EmulatedBoard;
use celltriage_firmware::fixture::Fixture;
use cortex_m_rt::entry;
use static_cell::StaticCell;
use tunnel::Tunnel;

static TUNNEL: StaticCell<Tunnel> = StaticCell::new();
static FIXTURE: StaticCell<Fixture> = StaticCell::new();

/// Apart from all else, so that the stack that it takes to make one is free again when the passes begin.
#[inline(never)]
fn make_fixture(board: &mut EmulatedBoard) -> &'static mut Fixture {
    FIXTURE.init_with(|| Fixture::new(board))
}

#[entry]
fn main() -> ! {
    let Some(processor) = cortex_m::Peripherals::take() else { cortex_m::peripheral::SCB::sys_reset() };
    // No interrupt is ever taken: one that is pending ends a sleep, and that is all.
    cortex_m::interrupt::disable();
    registers::start();
    let tunnel: &'static Tunnel = TUNNEL.init_with(Tunnel::open);
    log::to(tunnel.questions());
    let mut board = EmulatedBoard::new(tunnel, processor.SYST);
    let fixture = make_fixture(&mut board);
    defmt::info!("fixture ready");
    run(fixture, board, tunnel)
}

/// Makes passes, with a stack of their own.
#[inline(never)]
fn run(fixture: &mut Fixture, mut board: EmulatedBoard, tunnel: &Tunnel) -> ! {
    loop {
        let wake = fixture.serve(tunnel.now(), &mut board);
        board.wait_until(wake);
    }
}
