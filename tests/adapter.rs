//! Cells behind an adapter, from the word of a person to the record: what the fixture is told, what it then refuses, what is
//! tried before the load.

use celltriage_assessment::case::{Case, Setting};
use celltriage_book::Book;
use celltriage_link::{Client, Nobody};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::{Observations, SensedAt};
use celltriage_measure::plan::Extent;
use celltriage_protocol::fitted::Adapter;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library;
use celltriage_simulated_board::options::Options;
use celltriage_simulated_board::parameters::CellParameters;
use celltriage_tests::SharedBench;
use celltriage_workshop::assess::Assessed;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::measuring::Overrides;
use celltriage_workshop::{Fault, Workshop};
use jiff::tz::TimeZone;

/// A label of 4 Ah: 1 It is more than an adapter bears.
const LABEL: &str =
    "rated_capacity_ah = 4.0\ncharge_limit_v = 4.35\nend_of_discharge_v = 3.0\nchemistry = \"lco\"\n";

fn bench(parameters: CellParameters) -> SharedBench {
    let options = Options { initial_soc: 0.7, ..Options::default() };
    SharedBench::new(SimulatedFixture::new(parameters, options))
}

fn assess(bench: &SharedBench, looks: Observations, extent: Extent) -> Result<Assessed, Fault> {
    let folder = tempfile::tempdir().expect("a folder");
    let clock = HeldClock::at("2026-11-25T12:00:00Z".parse().expect("a timestamp"));
    let book = Book::open(folder.path().join("book.sqlite"))?;
    let mut shop = Workshop::new(book, &clock, TimeZone::UTC);
    let label = Nameplate::from_toml(LABEL, "label").expect("a label");
    let setting = Setting::built_in(None, shop.today()).expect("the built-in policy and rules");
    let case = Case::new("PE-0421", label, looks, setting);
    shop.assess(&case, bench.clone(), extent, &Overrides::default(), &mut Nobody)
}

fn behind(sensed_at: SensedAt, adapter: Option<u32>) -> Observations {
    Observations { sensed_at: Some(sensed_at), adapter, ..Observations::no_signs() }
}

/// Which adapter the fixture knows.
fn known(bench: &SharedBench) -> Adapter {
    let (mut client, _, _) = Client::connect(bench.clone()).expect("connects");
    match client.ask(&Request::ReadAdapter).expect("an answer") {
        Reply::Adapter(adapter) => adapter,
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_fixture_knows_the_adapter_the_plan_keeps_below_it_and_the_record_says_so() {
    let bench = bench(library::sound().parameters);
    let assessed = assess(&bench, behind(SensedAt::Connector, Some(7)), Extent::Screen).expect("assessed");
    let conditions = &assessed.assessment.conditions;
    let used = conditions.adapter.clone().expect("an adapter");
    assert_eq!((used.number, used.sensed_at.as_str(), used.largest_pulse_a), (Some(7), "connector", 3.0));
    assert!(
        conditions.trace_notes.iter().any(|note| note.contains("the adapter carries 3.00 A")),
        "{conditions:?}"
    );
    assert!(
        conditions.trace_notes.iter().any(|note| note.contains("contacts of the adapter tried")),
        "{conditions:?}"
    );
    assert_eq!(known(&bench).id, 7);

    // In the clips again, the fixture is told so before it is asked for more; nothing is said of an adapter then.
    let assessed = assess(&bench, Observations::no_signs(), Extent::Screen).expect("assessed");
    assert_eq!(assessed.assessment.conditions.adapter, None);
    let notes = &assessed.assessment.conditions.trace_notes;
    assert!(notes.iter().all(|note| !note.contains("adapter")), "{notes:?}");
    assert_eq!(known(&bench), Adapter::NONE);
}

#[test]
fn pins_that_nobody_has_numbered_are_an_adapter_too_and_a_rest_tries_no_contact() {
    let bench = bench(library::sound().parameters);
    let assessed = assess(&bench, behind(SensedAt::PackPads, None), Extent::Rest).expect("assessed");
    let used = assessed.assessment.conditions.adapter.clone().expect("an adapter");
    assert_eq!((used.number, used.sensed_at.as_str()), (None, "pack_pads"));
    assert_eq!(known(&bench).id, Adapter::NOT_NUMBERED);
    let notes = &assessed.assessment.conditions.trace_notes;
    assert!(notes.iter().all(|note| !note.contains("contacts")), "{notes:?}");
}

#[test]
fn a_path_of_more_than_half_an_ohm_is_not_loaded() {
    let mut tables = library::sound().parameters.tables().clone();
    tables.series_ohm.iter_mut().for_each(|ohm| *ohm += 0.5);
    let bench = bench(CellParameters::try_from(tables).expect("a cell"));
    let fault = assess(&bench, behind(SensedAt::Connector, Some(7)), Extent::Screen).expect_err("refused");
    assert!(matches!(&fault, Fault::AdapterContact { what } if what.contains("more than 500")), "{fault}");
    assert!(
        assess(&bench, Observations::no_signs(), Extent::Screen).is_ok(),
        "in the clips that is a bad cell"
    );
}
