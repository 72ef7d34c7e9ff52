//! The emulated machine's registers that this board uses: a timer, a serial port, a watchdog.
//!
//! Addresses and bits are those of the parts' manuals (ARM's CMSDK timer, UART and watchdog as the board "AN505" has
//! them at 20 MHz), from memory, seen to work.

/// Nanoseconds per tick of timer and watchdog.
pub const TICK_NS: u64 = 50;

const TIMER_CONTROL: usize = 0x5000_0000;
const TIMER_VALUE: usize = 0x5000_0004;
const TIMER_RELOAD: usize = 0x5000_0008;

const LINK_DATA: usize = 0x5020_0000;
const LINK_STATE: usize = 0x5020_0004;
const LINK_CONTROL: usize = 0x5020_0008;
const LINK_INTERRUPT: usize = 0x5020_000C;
const LINK_DIVIDER: usize = 0x5020_0010;
/// Both directions, and an interrupt for each byte that comes.
const LINK_ON: u32 = 1 | 1 << 1 | 1 << 3;
const LINK_RECEIVED: u32 = 1 << 1;
/// The interrupt controller's registers of the interrupts from 32 on; the link's are 32 and 33 (one for each direction) and
/// 42 (both).
const INTERRUPTS_ENABLE: usize = 0xE000_E104;
const INTERRUPTS_FORGET: usize = 0xE000_E284;
const LINK_IN_INTERRUPTS: u32 = 1 | 1 << 1 | 1 << 10;
const CANNOT_SEND: u32 = 1;
const HAS_RECEIVED: u32 = 2;

const WATCHDOG_LOAD: usize = 0x5008_1000;
const WATCHDOG_CONTROL: usize = 0x5008_1008;
const WATCHDOG_CLEAR: usize = 0x5008_100C;

/// Starts the timer, which counts down for ever, and the serial port.
pub fn start() {
    write(TIMER_RELOAD, u32::MAX);
    write(TIMER_VALUE, u32::MAX);
    write(TIMER_CONTROL, 1);
    write(LINK_DIVIDER, 16);
    write(LINK_CONTROL, LINK_ON);
    write(INTERRUPTS_ENABLE, LINK_IN_INTERRUPTS);
}

/// Returns the timer; it counts down and wraps.
pub fn timer() -> u32 {
    read(TIMER_VALUE)
}

/// Takes one byte from the link, if one has come.
pub fn take_byte() -> Option<u8> {
    has_received().then(|| read(LINK_DATA) as u8)
}

/// Returns whether a byte has come.
pub fn has_received() -> bool {
    read(LINK_STATE) & HAS_RECEIVED != 0
}

/// Forgets that a byte has come: the next one ends a sleep again.
pub fn forget_received() {
    write(LINK_INTERRUPT, LINK_RECEIVED);
    write(INTERRUPTS_FORGET, LINK_IN_INTERRUPTS);
}

/// Gives one byte to the link; returns whether it took it.
pub fn give_byte(byte: u8) -> bool {
    let can = read(LINK_STATE) & CANNOT_SEND == 0;
    if can {
        write(LINK_DATA, u32::from(byte));
    }
    can
}

/// Starts the watchdog: it resets the machine when it was not fed for twice this many ticks.
pub fn start_watchdog(half: u32) {
    set_watchdog(half);
    write(WATCHDOG_CONTROL, 3);
}

/// Gives the watchdog another time; it counts from its beginning. (Switching it off would not keep the emulated one from
/// counting, and from biting as soon as it is on again.)
pub fn set_watchdog(half: u32) {
    write(WATCHDOG_LOAD, half);
    feed_watchdog();
}

/// Feeds the watchdog.
pub fn feed_watchdog() {
    write(WATCHDOG_CLEAR, 1);
}

fn read(address: usize) -> u32 {
    // SAFETY: all callers pass an aligned address of a register above, which this program alone uses.
    #[allow(unsafe_code)]
    unsafe {
        core::ptr::with_exposed_provenance::<u32>(address).read_volatile()
    }
}

fn write(address: usize, value: u32) {
    // SAFETY: as for `read`; no register here makes the machine touch memory.
    #[allow(unsafe_code)]
    unsafe {
        core::ptr::with_exposed_provenance_mut::<u32>(address).write_volatile(value);
    }
}
