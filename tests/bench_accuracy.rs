//! The cells of the outside reference, put on the simulated bench and assessed through the real protocol.
//!
//! Two errors are stated for each number. *Against the circuit*: what an ideal meter reads on the equivalent circuit
//! that the bench plays; this is the error of chips, firmware, protocol and estimator together, and it is held to the
//! promised 1 % + 0.3 mOhm and 1 % of capacity. *Against the cell model*: the same numbers on the electrochemical model
//! (PyBaMM, DFN with Ai2020) that the circuit was fitted to; it also holds the misfit of a linear circuit, which is no
//! business of this program, and is printed, not judged. Nothing was tuned on either.

use celltriage_assessment::recorded::Recorded;
use celltriage_link::Client;
use celltriage_measure::estimate::{Estimates, FrontEnd, Quantity, all};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_measure::plan::{Extent, plan};
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::options::Options;
use celltriage_simulated_board::parameters::CellParameters;
use celltriage_tests::{Collector, SharedBench};
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
struct BenchCell {
    name: String,
    truth: Told,
    circuit: Told,
}

#[derive(Deserialize)]
struct Told {
    two_level_soc: Vec<f64>,
    two_level_ohm: Vec<f64>,
    capacity_ah: f64,
}

const LABEL: &str =
    "rated_capacity_ah = 2.28\ncharge_limit_v = 4.2\nend_of_discharge_v = 3.0\nchemistry = \"lco\"\n";

fn assess(parameters: &CellParameters, initial_soc: f64, extent: Extent, seed: u64) -> Estimates {
    let options = Options { seed, initial_soc, ..Options::default() };
    let bench = SharedBench::new(SimulatedFixture::new(parameters.clone(), options));
    let label = Nameplate::from_toml(LABEL, "label").expect("a label");
    let planned = plan(&label, extent, 1).expect("a plan");
    let (mut client, _, _) = Client::connect(bench).expect("connects");
    let mut watch = Collector::default();
    client.run(&planned.plan, &mut watch).expect("the run ends well");
    let recorded = Recorded::read(&watch.frames, None);
    assert!(recorded.run.is_finished(), "{:?}", recorded.run);
    let trace = recorded.trace.expect("samples");
    all(&trace, &label, &Observations::default(), &FrontEnd::fixture())
}

#[test]
fn reference_cells_on_the_bench_are_read_as_their_circuits_are() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/bench");
    let mut checked = 0;
    println!("cell             number             read      circuit   error      model     error");
    for name in ["fresh", "aged_resistance", "aged_capacity"] {
        let text = std::fs::read_to_string(folder.join(format!("{name}.json"))).expect("a committed cell");
        let parameters: CellParameters = serde_json::from_str(&text).expect("parameters");
        let cell: BenchCell = serde_json::from_str(&text).expect("what is true of it");
        for (index, &soc) in cell.circuit.two_level_soc.iter().enumerate() {
            let estimates = assess(&parameters, soc, Extent::Screen, index as u64);
            let read = estimates.get(Quantity::ResistanceTwoLevel).expect("a two-level resistance").value;
            let (circuit, model) = (cell.circuit.two_level_ohm[index], cell.truth.two_level_ohm[index]);
            println!(
                "{:<16} R two-level {:>3.0} %  {:>7.2}   {:>7.2}  {:>+5.2} %   {:>7.2}  {:>+6.2} %",
                cell.name,
                soc * 100.0,
                read * 1e3,
                circuit * 1e3,
                (read / circuit - 1.0) * 100.0,
                model * 1e3,
                (read / model - 1.0) * 100.0
            );
            assert!(
                (read - circuit).abs() <= 0.01 * circuit + 0.3e-3,
                "{name} at {soc}: {read} against {circuit}"
            );
            checked += 1;
        }
        let estimates = assess(&parameters, 1.0, Extent::Full, 9);
        let read = estimates.get(Quantity::Capacity).expect("a capacity").value;
        let (circuit, model) = (cell.circuit.capacity_ah, cell.truth.capacity_ah);
        println!(
            "{:<16} capacity          {read:>7.4}   {circuit:>7.4}  {:>+5.2} %   {model:>7.4}  {:>+6.2} %",
            cell.name,
            (read / circuit - 1.0) * 100.0,
            (read / model - 1.0) * 100.0
        );
        assert!((read / circuit - 1.0).abs() <= 0.01, "{name}: {read} Ah against {circuit} Ah");
        checked += 1;
    }
    assert_eq!(checked, 12);
}
