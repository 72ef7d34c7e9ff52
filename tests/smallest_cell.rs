//! The smallest cell that the fixture regulates 0.2 It of, on the simulated bench: what its figures are worth.

use celltriage_assessment::recorded::Recorded;
use celltriage_link::Client;
use celltriage_measure::estimate::{Estimates, FrontEnd, Quantity, all};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_measure::plan::{Extent, SMALLEST_AH, plan};
use celltriage_protocol::label::CellPlan;
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library;
use celltriage_simulated_board::options::Options;
use celltriage_simulated_board::parameters::CellParameters;
use celltriage_tests::{Collector, SharedBench};

/// A sound cell of this rated capacity: resistance times capacity stay those of its class.
fn scaled(rated_ah: f64) -> CellParameters {
    let sound = library::sound();
    let scale = rated_ah / sound.rated_capacity_ah;
    let mut tables = sound.parameters.tables().clone();
    tables.capacity_ah *= scale;
    tables.heat_capacity_j_per_k *= scale;
    tables.heat_loss_w_per_k *= scale;
    tables.leak_a *= scale;
    let ohms = tables.series_ohm.iter_mut().chain(tables.pair_ohm.iter_mut().flatten());
    ohms.for_each(|ohm| *ohm /= scale);
    CellParameters::try_from(tables).expect("a cell")
}

fn assess(rated_ah: f64, parameters: &CellParameters) -> Estimates {
    let text = format!(
        "rated_capacity_ah = {rated_ah}\ncharge_limit_v = 4.35\nend_of_discharge_v = 3.0\nchemistry = \"lco\"\n"
    );
    let label = Nameplate::from_toml(&text, "label").expect("a label");
    let options = Options { seed: 7, initial_soc: 1.0, ..Options::default() };
    let bench = SharedBench::new(SimulatedFixture::new(parameters.clone(), options));
    let planned = plan(&label, Extent::Full, 1).expect("a plan");
    let (mut client, _, _) = Client::connect(bench).expect("connects");
    let mut watch = Collector::default();
    client.run(CellPlan { label: planned.label, plan: planned.plan }, &mut watch).expect("the run ends well");
    let recorded = Recorded::read(&watch.frames, None);
    assert!(recorded.run.is_finished(), "{rated_ah} Ah: {:?}", recorded.run);
    all(&recorded.trace.expect("samples"), &label, &Observations::default(), &FrontEnd::fixture())
}

/// What `hardware-notes/limits.md` says of small cells.
#[test]
fn the_smallest_cells_are_tested_and_their_figures_say_how_well() {
    for (rated_ah, most_doubt) in [(SMALLEST_AH, 0.035), (0.15, 0.02), (0.5, 0.016)] {
        let parameters = scaled(rated_ah);
        let estimates = assess(rated_ah, &parameters);
        let capacity = estimates.get(Quantity::Capacity).expect("a capacity");
        let true_ah = parameters.tables().capacity_ah;
        let doubt = 2.0 * capacity.standard_uncertainty / capacity.value;
        let two_level = estimates.get(Quantity::ResistanceTwoLevel).expect("a two-level resistance");
        let true_ohm = parameters.two_level_resistance(1.0, rated_ah);
        let amps = capacity.conditions.current_a.expect("a current");
        println!(
            "{rated_ah:.3} Ah: at {:.1} mA {:.5} Ah ± {:.1} % of {true_ah:.5}; {:.4} ± {:.4} Ohm of {true_ohm:.4}",
            amps * 1e3,
            capacity.value,
            doubt * 100.0,
            two_level.value,
            2.0 * two_level.standard_uncertainty
        );
        assert!(doubt < most_doubt, "{rated_ah} Ah: ± {:.2} %", doubt * 100.0);
        assert!((capacity.value / true_ah - 1.0).abs() < doubt, "{rated_ah} Ah: {}", capacity.value);
        assert!((two_level.value / true_ohm - 1.0).abs() < 0.02, "{rated_ah} Ah: {} Ohm", two_level.value);
    }
}
