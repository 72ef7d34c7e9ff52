//! Times the full estimate of a recorded trace: everything `grade` computes between reading the file and deciding.
//!
//! usage: estimate_time TRACE.csv LABEL.toml SECONDS
//!
//! Prints one line of JSON: how long one estimate takes (median, s), how long reading the file takes, and the numbers
//! found. `tests/bench` runs it beside SciPy's fit of the same trace.

use celltriage_measure::bdf;
use celltriage_measure::estimate::{FrontEnd, all};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_measure::si::Seconds;
use celltriage_measure::trace::Trace;
use std::hint::black_box;
use std::path::Path;
use std::time::{Duration, Instant};

/// Returns the median time of one call, s, over calls for a while.
fn median_time(span: Duration, mut work: impl FnMut()) -> f64 {
    let began = Instant::now();
    let mut times = Vec::new();
    while began.elapsed() < span || times.len() < 5 {
        let one = Instant::now();
        work();
        times.push(one.elapsed().as_secs_f64());
    }
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn read_file(path: &Path) -> Trace {
    bdf::read(std::fs::File::open(path).expect("a trace"), &path.display().to_string()).expect("a trace")
}

fn main() {
    let typed: Vec<String> = std::env::args().skip(1).collect();
    let [trace, label, seconds] = typed.as_slice() else {
        eprintln!("usage: estimate_time TRACE.csv LABEL.toml SECONDS");
        std::process::exit(2);
    };
    let span = Duration::from_secs_f64(seconds.parse().expect("a number of seconds"));
    let label =
        Nameplate::from_toml(&std::fs::read_to_string(label).expect("a label"), label).expect("a label");
    let (path, front_end, looks) = (Path::new(trace), FrontEnd::fixture(), Observations::default());
    let read = read_file(path);
    let estimate_s = median_time(span, || {
        black_box(all(black_box(&read), &label, &looks, &front_end));
    });
    let read_s = median_time(span / 4, || {
        black_box(read_file(path));
    });
    let estimates = all(&read, &label, &looks, &front_end);
    let numbers: Vec<String> = estimates
        .measured
        .iter()
        .map(|(quantity, estimate)| format!("\"{}\": {}", quantity.key(), estimate.value))
        .collect();
    // What the fitted circuit says at two instants.
    let circuit = [1.0, 9.0].map(|after| {
        let found = estimates.circuit.as_ref().and_then(|circuit| circuit.resistance_at(Seconds(after)));
        found.map_or("null".to_owned(), |ohms| ohms.0.to_string())
    });
    println!(
        "{{\"rows\": {}, \"estimate_s\": {estimate_s}, \"read_s\": {read_s}, \"pairs\": {}, \"circuit_ohm\": [{}], \"estimates\": {{{}}}}}",
        read.points.len(),
        estimates.circuit.as_ref().map_or(0, |circuit| circuit.pairs.len()),
        circuit.join(", "),
        numbers.join(", ")
    );
}
