//! Ceilings and time-outs that both sides must agree on, each with its source.
//!
//! "Common practice" marks a figure without a single published source; it is a choice of this project and is to be
//! judged as one. `hardware-notes/limits.md` shows the same table to the person who builds the fixture; a test
//! compares the two.

mod digest;

pub use digest::{DIGEST, TABLE};

use crate::units::{MicroAmps, MicroJoules, MicroVolts, Micros, MilliCelsius};

/// Below this a cell at rest is never loaded, whatever its label says: 3.0 V is the end of discharge of every class table
/// for graphite cells; a cell below it is deeply discharged and would first need a slow pre-charge (common practice). Iron
/// phosphate at 3.0 V holds a tenth of its charge or less (equilibrium of a published model, Prada2013), so no test needs to
/// begin there, and a label that lies about the chemistry gains nothing.
pub const LOWEST_START: MicroVolts = MicroVolts::from_millivolts(3_000);
/// Under load the voltage may dip below the end of discharge for a moment; below this the load is dropped, unless the label
/// lets it go lower ([`crate::floors`]). Cell makers' precaution texts forbid discharge below 2.0 V; half a volt of margin
/// (common practice).
pub const LOADED_FLOOR: MicroVolts = MicroVolts::from_millivolts(2_500);
/// Lowest floor a plan may ask a discharge to end at where the label gives no lower one.
pub const LOWEST_PLAN_FLOOR: MicroVolts = MicroVolts::from_millivolts(2_600);
/// Lowest end of discharge that a label of lithium ion other than iron phosphate may give: cylindrical mixed-oxide cells are
/// specified to 2.5 V (specifications of two such cells as tabled with a public data set; parameters of published models
/// of four more), some makers go lower; forbidden is less than 2.0 V (a published cell specification).
pub const LOWEST_END: MicroVolts = MicroVolts::from_millivolts(2_500);
/// The same for iron phosphate: specified to 2.0 V (the same table; a published model of another cell). Such cells lost
/// nothing to speak of when discharged to 1.5 V; below 1.0 V gas was found, at 0.5 V an eighth of the charge was lost
/// (RSC Advances 6, 30474 (2016), abstract read).
pub const LOWEST_LFP_END: MicroVolts = MicroVolts::from_millivolts(2_000);
/// How far the guard's floor lies below the plan's. The guard looks first at each sample, so a discharge that falls through
/// the plan's floor between two samples must not reach the guard's: the steepest end of a discharge at 0.2 It falls by less
/// than 1 mV in the 100 ms of the slowest sampling (0.5 V in the last per cent, iron phosphate), the readings are wrong by up
/// to 20 mV without a calibration. The rest is our choice: what a contact that moves may change.
pub const FLOOR_MARGIN: MicroVolts = MicroVolts::from_millivolts(100);
/// Charge-limit voltages of lithium-ion cells lie between 3.6 V (iron phosphate) and 4.5 V (high-voltage cobalt).
pub const LOWEST_CHARGE_LIMIT: MicroVolts = MicroVolts::from_millivolts(3_500);
/// See [`LOWEST_CHARGE_LIMIT`].
pub const HIGHEST_CHARGE_LIMIT: MicroVolts = MicroVolts::from_millivolts(4_550);
/// Highest charge limit of an iron phosphate label: makers give 3.6 to 3.65 V, and a little for odd ones (our choice). A higher
/// one is that of another chemistry, whose cell must not get the lower floor. With the negative sense lead open the fixture
/// reads half of the cell: of such a cell, however full, that is below its floor (`hardware-notes/tables/sense.py`).
pub const HIGHEST_LFP_CHARGE_LIMIT: MicroVolts = MicroVolts::from_millivolts(3_700);
/// At rest above the label's charge limit by more than this the cell was over-charged (common practice).
pub const OVER_CHARGE_MARGIN: MicroVolts = MicroVolts::from_millivolts(50);

/// Largest current of a short pulse: the sink's heat budget (5 A at 4.4 V for 1 s is 22 J).
pub const LARGEST_PULSE: MicroAmps = MicroAmps::from_milliamps(5_000);
/// Largest current of a short pulse through an adapter with sprung pins: two pins of 3 A and a fuse of 4 A a pole keep 50 % and
/// 25 % to it (`hardware-notes/adapter.md`). What is held for long is what the fixture holds anyhow, 1.5 A.
pub const LARGEST_ADAPTER_PULSE: MicroAmps = MicroAmps::from_milliamps(3_000);
/// Longest hold above the steady current.
pub const LONGEST_PULSE: Micros = Micros::from_millis(2_000);
/// Largest current held for long: 1.5 A at 4.4 V is 6.6 W, below what the sink loses steadily.
pub const LARGEST_STEADY: MicroAmps = MicroAmps::from_milliamps(1_500);
/// Smallest load: ten steps of a 12-bit set-point converter over 6 A. Its zero (0.02 % of its range as usual, from memory),
/// the amplifier's (0.15 mV on 50 mOhm, data sheet seen) and rounding move it by up to 6 mA, so the current still is more than
/// the half that the guard wants; what flows is measured to 0.2 mA and is what estimates go by. A converter at the limit of
/// its data sheet (0.75 %, 45 mA, from memory) does not regulate it, which `hardware-notes/first_power_up.md`, step 10, finds.
pub const SMALLEST_LOAD: MicroAmps = MicroAmps::from_milliamps(15);
/// Absolute ceiling of the measured current, 10 % above the largest pulse.
pub const CURRENT_CEILING: MicroAmps = MicroAmps::from_milliamps(5_500);
/// The measured current may exceed its set point by 10 % plus this (set-point converter, offset, noise).
pub const CURRENT_MARGIN: MicroAmps = MicroAmps::from_milliamps(50);
/// With the load off for [`SETTLE`], more current than this in either direction means a sink that conducts.
pub const OFF_CURRENT: MicroAmps = MicroAmps::from_milliamps(20);
/// After a change of the set point the current may take this long to arrive: sink settling of at most 1 ms, plus a
/// monitor conversion of 0.56 ms that began before the change, plus one sample.
pub const SETTLE: Micros = Micros::from_millis(4);

/// Before a load: coldest cell (IEC 62133-2 charging band and resistance grading both end near 10 degC).
pub const COLDEST_START: MilliCelsius = MilliCelsius::new(10_000);
/// Before a load: warmest cell. A cell warmer than this on a bench is warming by itself or was just used.
pub const WARMEST_START: MilliCelsius = MilliCelsius::new(35_000);
/// Hottest cell surface under load or at rest: phone charger profiles stop hard at 45 degC (common practice).
pub const HOTTEST: MilliCelsius = MilliCelsius::new(45_000);
/// Largest rise over ambient (common practice: abort at 8 to 10 K; a sound cell rises < 1 K at 0.2 It).
pub const LARGEST_RISE: MilliCelsius = MilliCelsius::new(8_000);
/// Before a load and at rest: a cell this much warmer than the air without a load is self-warming (common practice).
pub const LARGEST_REST_RISE: MilliCelsius = MilliCelsius::new(2_000);
/// Fastest warming, per minute: 1 K/min without load is a warning sign (common practice); 3 K/min covers a 1.5 A
/// load on a cell of 0.3 Ohm and 15 J/K (0.7 W / 15 J/K = 2.7 K/min).
pub const FASTEST_REST_WARMING: MilliCelsius = MilliCelsius::new(1_000);
/// See [`FASTEST_REST_WARMING`]; under load.
pub const FASTEST_LOADED_WARMING: MilliCelsius = MilliCelsius::new(3_000);
/// Span over which warming is judged.
pub const WARMING_SPAN: Micros = Micros::from_secs(30);

/// Heat the sink loses steadily, in microwatts (= uJ/s): 8 W with its heat sink in still air (design value).
pub const SINK_LOSS_UW: i64 = 8_000_000;
/// Heat the sink may hold above what it loses (design value): nearly three pulses of 5 A for 1 s in a row (22 J
/// each), yet only 0.8 K in 80 g of aluminium (0.9 J/(g K)), so that the transistor's own heating decides, not the sink's.
pub const SINK_STORE: MicroJoules = MicroJoules::new(60_000_000);

/// Before a load: spread of the last eight sense voltages at rest; an open lead wanders far more (common practice).
pub const CONTACT_SPREAD: MicroVolts = MicroVolts::from_millivolts(25);

/// Oldest voltage or current that counts, besides three sample periods.
pub const OLDEST_ELECTRICAL: Micros = Micros::from_millis(50);
/// Under load: most readings of the current in a row with the same code of twenty bits. One more, and the converter has
/// stopped whatever it says (10 s at the slowest sampling). Its noise is least with the most averages that a load gets,
/// 64 of 280 us: 16.9 noise-free bits (noise table of the INA229, the same converter with another bus, as quoted in a
/// public driver), so 8.6 codes from peak to peak, 1.3 rms (a 6.6th). Such a reading has the same code as the one before
/// with a probability of at most 0.30, and 100 times in a row with 0.30^100 = 2e-53; 1,000 discharges of five hours have
/// 1.8e8 readings. A third of that noise would still make one false alarm in 10,000 such thousands. Shorter periods
/// average less and are noisier; ripple of the load only adds.
pub const MOST_SAME_CURRENTS: u32 = 100;
/// Under load: most readings of the voltage in a row with the same code (60 s at the slowest sampling). No noise table
/// tells of this channel; the same converter should have 1.3 codes rms here too, the simulated chip has 0.45 (from memory).
/// With those 0.45 a reading repeats with at most 0.736: 0.736^600 = 1e-80. Hence more of them: even 0.26 codes (0.95) on
/// a plateau that does not fall at all would make one false alarm in 2 million times 1,000 such discharges.
pub const MOST_SAME_VOLTAGES: u32 = 600;
/// Oldest temperature that counts: eight conversions of a thermometer with eight averages (125 ms each).
pub const OLDEST_TEMPERATURE: Micros = Micros::from_secs(1);

/// How far the second look may be from the first reading of the voltage, besides the fall over the leads. Worst case of the
/// controller's converter at 4 V, all errors added, is 141 mV (`hardware-notes/error_budget.md`: mostly a pin that leaks, the
/// converter's steps and its zero); the monitor's own error is 3 mV. Our choice: that, rounded up.
pub const LOOK_VOLTAGE_MARGIN: MicroVolts = MicroVolts::from_millivolts(150);
/// Resistance of fuse, cut-out, leads and contacts that the second look, on the force lead, may have before it: 30 to 60 mOhm
/// (`hardware-notes/sense.md`) and as much again (our choice). More is a bad contact.
pub const LOOK_LEAD_UOHM: i64 = 100_000;
/// How far the current of the second look may be from the set point, besides a tenth of it. It is read as 50 mV per ampere
/// without an amplifier: 29 mV of leak, zero and steps of the converter are 0.58 A (same budget). Our choice: rounded up.
pub const LOOK_CURRENT_MARGIN: MicroAmps = MicroAmps::from_milliamps(700);
/// So many looks in a row may be out of bounds; one more drops the load. A single conversion may be spoilt by an edge on the
/// supply; three in a row last 0.3 s at the slowest sampling (our choice).
pub const MOST_BAD_LOOKS: u32 = 2;

/// Without a word from the owner of the run for this long, a running plan is tripped. Only the start and what shows the
/// run's token are such words; whoever else talks to the fixture does not keep the load on.
pub const HOST_SILENCE: Micros = Micros::from_secs(3);
/// How often the host says that it is there: six chances before the silence is judged.
pub const KEEP_ALIVE: Micros = Micros::from_millis(500);
/// A loaded plan that was not started for this long is forgotten: the cell may be another one by then. Our choice: the
/// host starts a plan at once, after at most three tries of 1 s for each request and 10 s of waiting for a locked book.
pub const PLAN_KEPT: Micros = Micros::from_secs(30);
/// The fixture tells something at least this often while a plan runs.
pub const REPORT_AT_LEAST: Micros = Micros::from_secs(1);

/// Shortest sample period.
pub const SHORTEST_PERIOD_US: u32 = 1_000;
/// Longest sample period at rest.
pub const LONGEST_REST_PERIOD_US: u32 = 1_000_000;
/// Longest sample period under load: the guard looks at every sample and must drop the load within one.
pub const LONGEST_LOADED_PERIOD_US: u32 = 100_000;
/// Longest step: 12 h covers a 10 h discharge.
pub const LONGEST_STEP: Micros = Micros::from_secs(12 * 3_600);

// The layers must not cross: a plan can only ask for less than the guard allows, the guard for less than the ceiling.
const _: () = assert!(LOWEST_PLAN_FLOOR.get() == LOADED_FLOOR.get() + FLOOR_MARGIN.get());
const _: () = assert!(LOWEST_LFP_END.get() < LOWEST_END.get() && LOWEST_END.get() < LOWEST_PLAN_FLOOR.get());
const _: () = assert!(LOWEST_CHARGE_LIMIT.get() < HIGHEST_LFP_CHARGE_LIMIT.get());
const _: () = assert!(
    (HIGHEST_LFP_CHARGE_LIMIT.get() + OVER_CHARGE_MARGIN.get()) / 2
        < LOWEST_LFP_END.get() - FLOOR_MARGIN.get()
);
const _: () = assert!(
    (HIGHEST_CHARGE_LIMIT.get() + OVER_CHARGE_MARGIN.get()) / 2 < LOWEST_END.get() - FLOOR_MARGIN.get()
);
const _: () = assert!(LOWEST_START.get() > LOADED_FLOOR.get());
const _: () =
    assert!(LARGEST_PULSE.get() + LARGEST_PULSE.get() / 10 + CURRENT_MARGIN.get() >= CURRENT_CEILING.get());
const _: () = assert!(CURRENT_CEILING.get() > LARGEST_PULSE.get());
const _: () = assert!(LARGEST_STEADY.get() < LARGEST_ADAPTER_PULSE.get());
const _: () = assert!(WARMEST_START.get() < HOTTEST.get());
const _: () = assert!(LARGEST_REST_RISE.get() < LARGEST_RISE.get());
const _: () = assert!(KEEP_ALIVE.get() * 3 < HOST_SILENCE.get());
