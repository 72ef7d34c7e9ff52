//! A story at the bench: a host with its runs, strangers on the line, faults, other cells, power failures.

use crate::owner::Owner;
use crate::plans;
use arbitrary::{Result, Unstructured};
use celltriage_protocol::address::Address;
use celltriage_protocol::calibration::{Calibration, Channel};
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_protocol::run::Token;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::chips::Chip;
use celltriage_simulated_board::fault::Fault;
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library;
use celltriage_simulated_board::options::Options;

/// Most things that happen in one story.
const MOST_ACTS: usize = 12;
/// After the last act nobody says anything for so long: the load must be off.
const AT_LAST: Micros = Micros::from_millis(3_200);

/// What happened.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Told {
    /// Whether the load was ever on.
    pub loaded: bool,
    /// Whether a trip was latched.
    pub tripped: bool,
    /// How long it took on the fixture's clock.
    pub lasted: Micros,
}

/// Plays the story that the bytes tell.
///
/// # Panics
/// Where the fixture breaks a promise.
pub fn play(bytes: &[u8]) -> Told {
    let mut choices = Unstructured::new(bytes);
    let Ok(fixture) = fixture(&mut choices) else { return Told::default() };
    let mut owner = Owner::new(fixture);
    for _ in 0..MOST_ACTS {
        if choices.is_empty() || act(&mut owner, &mut choices).is_err() {
            break;
        }
    }
    owner.stay(AT_LAST, false);
    assert!(!owner.fixture.load_is_on(), "nobody is there, and the load is on");
    Told { loaded: owner.watch.loaded, tripped: owner.watch.tripped, lasted: owner.fixture.now() }
}

fn fixture(choices: &mut Unstructured<'_>) -> Result<SimulatedFixture> {
    let cells = library::all();
    // Mostly a cell that can be loaded, of each sort of floor.
    let loadable = [library::sound(), library::cylindrical(), library::iron_phosphate()];
    let drawn_from = if choices.ratio(3, 4)? { loadable.as_slice() } else { &cells };
    let cell = choices.choose(drawn_from)?;
    let options = Options {
        initial_soc: f64::from(choices.int_in_range(5..=100_u8)?) / 100.0,
        seed: choices.arbitrary()?,
        ..cell.options(1)
    };
    Ok(SimulatedFixture::new(cell.parameters.clone(), options))
}

fn act(owner: &mut Owner, choices: &mut Unstructured<'_>) -> Result<()> {
    match choices.int_in_range(0..=19)? {
        0..=5 => {
            let plan = plans::plan(choices, owner.plan.wrapping_add(1))?;
            if owner.begin(&plan) {
                owner.stay(Micros::from_millis(choices.int_in_range(1..=3_000)?), true);
            }
        }
        6..=8 => owner.stay(Micros::from_millis(choices.int_in_range(1..=3_000)?), true),
        9 => owner.stay(Micros::from_millis(choices.int_in_range(1..=4_000)?), false),
        10 => {
            let stopped = owner.ask(&Request::Stop);
            assert!(stopped.is_none() || !owner.fixture.load_is_on(), "stopped, and the load is on");
        }
        11 => {
            let _answer = owner.ask(&Request::AcknowledgeTrip { trip: owner.trip });
        }
        12 => question(owner, choices)?,
        13 => owner.babble(choices)?,
        14 => stranger(owner, choices)?,
        15 => {
            let cells = library::all();
            let cell = cells.get(choices.choose_index(cells.len())?).unwrap_or(&cells[0]);
            if choices.ratio(1, 3)? {
                owner.fixture.remove_cell();
            } else {
                owner
                    .fixture
                    .swap_cell(cell.parameters.clone(), f64::from(choices.int_in_range(0..=100_u8)?) / 100.0);
            }
        }
        16..=17 => {
            let (fault, blinds) = fault(choices)?;
            owner.watch.blinded |= blinds;
            let at =
                owner.fixture.now().saturating_add(Micros::from_millis(choices.int_in_range(0..=2_000)?));
            owner.fixture.inject(fault.at(at));
        }
        18 => owner.fixture.mend(),
        _ => {
            if choices.ratio(1, 2)? {
                owner.fixture.brown_out_chips();
            } else {
                owner.fixture.power_cycle();
                owner.get_to_know();
            }
        }
    }
    Ok(())
}

/// Someone asks, also for what changes the fixture while nobody runs a plan.
fn question(owner: &mut Owner, choices: &mut Unstructured<'_>) -> Result<()> {
    let mut channel = || -> Result<Channel> {
        Ok(Channel {
            offset: choices.int_in_range(-5_000..=5_000)?,
            gain_ppm: choices.int_in_range(-20_000..=20_000)?,
        })
    };
    let calibration =
        Calibration { number: 1, voltage: channel()?, current: channel()?, ..Calibration::default() };
    let asked = [
        Request::Identify,
        Request::ReadState,
        Request::ReadCalibration,
        Request::Describe,
        Request::ResendFrom { sequence: choices.arbitrary()? },
        Request::EnterBootLoader,
        Request::Calibrate(calibration),
    ];
    if let Some(Reply::Description(description)) = owner.ask(choices.choose(&asked)?) {
        owner.address.boot = description.boot;
    }
    Ok(())
}

/// Someone who does not own the run says what only its owner may say, and old words: none of it counts.
fn stranger(owner: &mut Owner, choices: &mut Unstructured<'_>) -> Result<()> {
    let words = [
        Request::KeepRunning { token: Token(owner.token.0.wrapping_add(choices.int_in_range(1..=9)?)) },
        Request::StartRun { plan: owner.plan, loading: owner.loading, token: Token(u64::MAX) },
        Request::Resume { token: Token(choices.int_in_range(1 << 40..=u64::MAX)?) },
        Request::Start { plan: owner.plan },
        Request::KeepAlive,
    ];
    let word = choices.choose(&words)?.clone();
    let owned = owner.address;
    // Another boot number, a number that was used, or a good one, which the owner then cannot use again.
    let address = match choices.int_in_range(0..=2)? {
        0 => Address { boot: owned.boot.wrapping_add(1), number: owned.number.wrapping_add(1) },
        1 => owned,
        _ => Address { number: owned.number.wrapping_add(1), ..owned },
    };
    owner.say_to(address, &word);
    owner.address.number = owned.number.wrapping_add(1);
    owner.pass(Micros::from_millis(20));
    Ok(())
}

/// Draws a fault; also whether it hides the cell's voltage from the fixture or holds the sink on.
fn fault(choices: &mut Unstructured<'_>) -> Result<(Fault, bool)> {
    let chips = [Chip::PowerMonitor, Chip::CellThermometer, Chip::AmbientThermometer, Chip::SetPoint];
    let chip = *choices.choose(&chips)?;
    Ok(match choices.int_in_range(0..=11)? {
        0 => (Fault::OpenSenseLead, true),
        1 => (Fault::LooseSenseLead { spread_v: 0.2 }, true),
        2 => (Fault::OpenForceLead, false),
        3 => (Fault::StuckSensor { chip, says_ready: choices.arbitrary()? }, true),
        4 => (Fault::StuckVoltage, true),
        5 => (Fault::WarmCell { temperature_c: f64::from(choices.int_in_range(20..=80_u8)?) }, false),
        6 => (Fault::OpenProtection { leaks_v: 0.3 }, true),
        7 => (Fault::ReversedCell, true),
        8 => (Fault::SinkStuckOn { current_a: f64::from(choices.int_in_range(0..=50_u8)?) / 10.0 }, true),
        9 => (Fault::NoAnswer { chip: Some(chip) }, false),
        10 => (Fault::NoAnswerOnce, false),
        _ => (Fault::ThermometerOffCell, false),
    })
}
