//! A case as options and files give it: every file is kept as it was given, so that the book can show it.

use crate::arguments::{LabelArguments, LooksArguments, SettingArguments};
use crate::choice::place_named;
use crate::error::{Error, read_text};
use crate::io::Io;
use celltriage_assessment::case::{Setting, label_file};
use celltriage_book::NewAttachment;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::nameplate_file::Overrides;
use celltriage_measure::observation::{Answer, DeviceSaid, Observations, Sign};
use celltriage_rules::emergency_texts;
use celltriage_verdict::{DEFAULT_POLICY, POLICY_2, Policy};
use celltriage_workshop::Workshop;

/// Reads policy, place and packs.
///
/// # Errors
/// An input error that names the file and place of the fault.
pub fn read_setting(arguments: &SettingArguments, io: &Io<'_>) -> Result<Setting, Error> {
    let (policy_text, name) = match &arguments.policy {
        Some(path) if path.as_os_str() == "version-2" => (POLICY_2.to_owned(), "version 2".to_owned()),
        Some(path) => (read_text(path, "policy")?, path.display().to_string()),
        None => (DEFAULT_POLICY.to_owned(), "built-in policy".to_owned()),
    };
    Ok(Setting {
        place: place_named(arguments.place.as_deref())?,
        date: io.today(),
        policy: Policy::from_toml(&policy_text, &name).map_err(|error| Error::input(error.to_string()))?,
        policy_text,
        packs: crate::command::rules::read_packs(arguments.rules.as_deref())?,
    })
}

/// Says what to do about a cell that is reacting: at once the rules of its place, after the general words.
pub fn alarm(setting: &Setting, io: &mut Io<'_>) {
    io.emergency(emergency_texts(&setting.packs, setting.place.as_ref()));
}

/// Warns where a label contradicts what the book has of the cell, and adds that to the label's warnings, so that it is on the
/// decision's page.
///
/// # Errors
/// The book cannot be read.
pub fn warn_of_label(
    shop: &Workshop<'_>,
    cell: &str,
    label: &mut Nameplate,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    if let Some(told) = shop.label_contradiction(cell, label)? {
        io.note(&format!("warning: label: {told}"));
        label.warnings.push(told);
    }
    Ok(())
}

/// Says it once more.
pub fn alarm_again(setting: &Setting, io: &mut Io<'_>) {
    io.emergency_again(emergency_texts(&setting.packs, setting.place.as_ref()));
}

/// Reads the label from file and options; also returns the file as given.
///
/// # Errors
/// An input error with all that is wrong at once.
pub fn read_label(arguments: &LabelArguments) -> Result<(Nameplate, Vec<NewAttachment>), Error> {
    let options = Overrides {
        model: arguments.model.clone(),
        rated_capacity_ah: arguments.rated_capacity_ah,
        charge_limit_v: arguments.charge_limit_v,
        end_of_discharge_v: arguments.end_of_discharge_v,
        nominal_v: arguments.nominal_v,
        nominal_thickness_mm: arguments.nominal_thickness_mm,
        thickness_from: arguments.thickness_from.clone(),
        chemistry: arguments.chemistry.clone(),
        form: arguments.form.clone(),
        mass_g: arguments.mass_g,
    };
    let file = match &arguments.cell {
        Some(path) => Some((read_text(path, "label file")?, path.display().to_string())),
        None => None,
    };
    let borrowed = file.as_ref().map(|(text, name)| (text.as_str(), name.as_str()));
    let nameplate = Nameplate::read(borrowed, &options).map_err(|error| Error::input(error.to_string()))?;
    let kept = file.map(|(text, _)| label_file(text));
    Ok((nameplate, kept.into_iter().collect()))
}

/// Reads what was seen from file and options, and asks nobody; a cell that is reacting is told of first.
///
/// # Errors
/// An input error that names file or option.
pub fn read_looks(arguments: &LooksArguments, io: &mut Io<'_>) -> Result<Observations, Error> {
    let looks = given_looks(arguments)?;
    if looks.answer(Sign::ActiveNow) == Answer::Yes {
        crate::danger_first::tell(io);
    }
    Ok(looks)
}

/// Reads what was seen from file and options.
///
/// # Errors
/// An input error that names file or option.
pub fn given_looks(arguments: &LooksArguments) -> Result<Observations, Error> {
    let wrong = |error: celltriage_measure::observation::ObservationError| Error::input(error.to_string());
    let mut looks = match &arguments.observations {
        Some(path) => {
            Observations::from_toml(&read_text(path, "observations file")?, &path.display().to_string())?
        }
        None => Observations::default(),
    };
    if arguments.no_signs {
        looks = looks.overlaid(Observations::no_signs());
    }
    let mut later = Observations {
        assessor: arguments.assessor.clone(),
        note: arguments.note.clone(),
        same_cell: arguments.same_cell.clone(),
        ..Observations::default()
    };
    for given in &arguments.signs {
        let (sign, answer) = Observations::parse_option(given).map_err(wrong)?;
        later.set(sign, answer);
    }
    for given in &arguments.thickness_mm {
        later.add_thickness(Observations::parse_thickness(given).map_err(wrong)?);
    }
    later.lies_flat = arguments.lies_flat;
    later.new_cell = arguments.new_cell;
    later.charger_ended = arguments.charger_ended;
    later.rested_h = arguments.rested_h.map(Observations::check_rest).transpose().map_err(wrong)?;
    later.sensed_at =
        arguments.sensed_at.as_deref().map(Observations::parse_sensed_at).transpose().map_err(wrong)?;
    later.label_again_ah =
        arguments.label_again.map(Observations::check_label_again).transpose().map_err(wrong)?;
    later.wires = arguments.wires.map(Observations::check_wires).transpose().map_err(wrong)?;
    later.adapter = arguments.adapter.map(Observations::check_adapter).transpose().map_err(wrong)?;
    let (current_a, lowest_v) = (arguments.device_current_a, arguments.device_lowest_v);
    let said = arguments.device.map(|did| DeviceSaid { did, current_a, lowest_v }.checked());
    later.device = said.transpose().map_err(Error::input)?;
    let looks = looks.overlaid(later);
    if looks.same_cell.is_some() && looks.said_to_be_the_same().is_none() {
        return Err(Error::input("who says that it is the same cell, and why, is not known")
            .hint("give both: --same-cell REASON --assessor NAME"));
    }
    Ok(looks)
}
