//! The sentences of a health statement: what came from the cell and what from its siblings, always named apart.

use super::{Health, OUT_OF_THE_ORDINARY};
use celltriage_measure::normal_model::{FEWEST_CELLS, Known};
use celltriage_verdict::figure_with_doubt;

fn percent(known: Known) -> String {
    figure_with_doubt(known.value, known.standard_uncertainty, "1")
}

pub(super) fn statement(health: &Health) -> Vec<String> {
    let mut lines = Vec::new();
    lines.push(match health.of_rated {
        Some(own) => format!("Counted on this cell: {} of the rated capacity.", percent(own)),
        None => "The capacity was not counted on this cell.".to_owned(),
    });
    let Some(model) = &health.model else { return lines };
    if let Some(new) = &health.of_new {
        let cells =
            if new.cells == 1 { "one new cell".to_owned() } else { format!("{} new cells", new.cells) };
        lines.push(format!(
            "Against {cells} of model {model} in the book ({:.1} % of rated): {}.",
            new.new_of_rated * 100.0,
            percent(new.share)
        ));
    }
    match &health.siblings {
        None => lines.push(format!(
            "The book knows fewer than {FEWEST_CELLS} other used cells of model {model} with a counted capacity: \
             nothing is taken from them."
        )),
        Some(siblings) => {
            let expected = percent(siblings.expected);
            let others = format!("{} other cells of model {model}", siblings.cells);
            match (siblings.joined, siblings.weight_of_cell) {
                (Some(joined), Some(weight)) => lines.push(format!(
                    "{others} lead one to expect {expected}. Joined: {}, of which {:.0} % of the weight is this cell's own count \
                     and {:.0} % its siblings'. The decision uses the own count alone.",
                    percent(joined),
                    weight * 100.0,
                    (1.0 - weight) * 100.0
                )),
                _ if siblings.distance.is_some() => lines.push(format!(
                    "{others} lead one to expect {expected}. This cell's own count contradicts that, so the two are not \
                     joined. The decision uses the own count alone."
                )),
                _ => lines.push(format!(
                    "{others} lead one to expect {expected}. That is no measurement of this cell: reuse needs its own counted \
                     discharge."
                )),
            }
            if let Some(distance) = siblings.distance.filter(|distance| distance.abs() > OUT_OF_THE_ORDINARY) {
                lines.push(format!(
                    "Its capacity lies {:.1} standard deviations {} its siblings: out of the ordinary for this model; \
                     check the label and the charge.",
                    distance.abs(),
                    if distance < 0.0 { "below" } else { "above" }
                ));
            }
        }
    }
    if let Some(among) = &health.resistance {
        let odd = match among.distance.abs() > OUT_OF_THE_ORDINARY {
            true => format!(
                ", {:.1} standard deviations away: out of the ordinary for this model",
                among.distance.abs()
            ),
            false => String::new(),
        };
        lines.push(format!(
            "Its resistance at 25 °C is {:.2} times the mean of {} cells of the model{odd}.",
            among.ratio, among.cells
        ));
    }
    lines
}
