//! `rules` as it is called, from what is typed to what is printed.

use crate::io::Io;
use crate::settings::surroundings::Surroundings;
use celltriage_rules::{PackOrigin, Packs, promise_in};
use jiff::tz::TimeZone;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// Exit code, what was printed as data, and what else.
fn call(typed: &[&str]) -> (u8, String, String) {
    call_any(&[&["rules"], typed].concat())
}

fn call_any(typed: &[&str]) -> (u8, String, String) {
    call_at("2026-11-25T12:00:00Z", TimeZone::UTC, typed)
}

fn call_at(now: &str, zone: TimeZone, typed: &[&str]) -> (u8, String, String) {
    let (mut out, mut err, stop) = (Vec::new(), Vec::new(), AtomicBool::new(false));
    let mut io = Io {
        out: &mut out,
        err: &mut err,
        ask: None,
        now: now.parse().unwrap(),
        stated_day: None,
        bench: celltriage_book::BENCH.to_owned(),
        zone,
        width: 80,
        height: None,
        colour: false,
        live: false,
        bars: None,
        told: Vec::new(),
        loudness: crate::io::Loudness::Usual,
        in_words: false,
        screen: false,
        stop: &stop,
    };
    let typed = ["celltriage"].iter().chain(typed).map(|word| (*word).into());
    let code = crate::run(typed, &Surroundings::with_settings_in(Path::new("no-settings-are-here")), &mut io);
    (code, String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

/// A folder with a file in it, and both paths.
fn folder_with(name: &str, text: &str) -> (tempfile::TempDir, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(name);
    std::fs::write(&file, text).unwrap();
    let (path, file) = (folder.path().to_string_lossy().into_owned(), file.to_string_lossy().into_owned());
    (folder, path, file)
}

/// The pack that `host/RULES.md` shows.
fn example() -> String {
    let guide = include_str!("../../../../RULES.md");
    let after = guide.split("## An example").nth(1).unwrap();
    after.split("```toml\n").nth(1).unwrap().split("```").next().unwrap().to_owned()
}

#[test]
fn the_list_names_every_pack_with_its_review() {
    let (code, out, _) = call(&["list"]);
    assert_eq!(code, 0);
    let packs = Packs::built_in().unwrap();
    let names: Vec<_> =
        out.lines().filter_map(|line| line.split(' ').next()).filter(|name| !name.is_empty()).collect();
    let all: Vec<_> = std::iter::once("place").chain(packs.all().iter().map(|pack| pack.name())).collect();
    assert_eq!(names, all, "{out}");
    for pack in packs.all() {
        let line = out.lines().find(|line| line.starts_with(&format!("{} ", pack.name()))).unwrap();
        assert!(
            line.contains(&format!(" {} ", pack.rules.len())) && line.contains(&pack.review_by.to_string()),
            "{line}"
        );
    }
    assert!(!out.contains("overdue"));
}

#[test]
fn a_fact_is_shown_with_scope_source_and_doubts() {
    let (code, out, err) = call(&["show", "ca-on"]);
    assert_eq!((code, err.as_str()), (0, ""));
    let expected = "
CA-ON · Canada, Ontario
pack version 1 · built-in · checked on 2026-11-25 · review by 2027-05-25 · in
doubt ask the Resource Productivity and Recovery Authority

  ca-on.producers (notice)
      Producers see to the collection of batteries.
      for: waste without damage
      [O. Reg. 30/20] read in a copy of the text

  ca-on.person_and_day (counter)
      A collection site that is no shop and takes more than 15 kg from one
      person in a day writes down name, contact and weight.
      counted: mass from one person in a day at most 15 kg
      for: waste without damage; unknown, to be treated as damaged; damaged or
      defective, not critical; damaged, casing open
      [O. Reg. 30/20] read in a copy of the text

  ca-on.refurbisher (defer)
      Who refurbishes used batteries is a regulated refurbisher: ask whether you
      must register.
      for every cell · in the papers: who must approve or be asked
      [O. Reg. 30/20] read in a copy of the text
      IN DOUBT: whether a workshop of your kind must register was not checked

This page tells what was found, where, and how sure that is. The law of the
place goes before it.
";
    assert!(out.ends_with(expected), "the page ends with\n{}", &out[out.find("CA-ON · Canada").unwrap()..]);
    for layer in ["* · everywhere", "air · by air, everywhere", "CA · Canada, federal"] {
        assert!(out.contains(layer), "{layer}");
    }
}

#[test]
fn facts_from_memory_and_overdue_ones_are_shown_with_whom_to_ask() {
    let (_, today, _) = call(&["show", "sg"]);
    assert!(today.contains("VERIFY: verify with the National Environment Agency"));
    assert!(!today.contains("review was due"));
    let (_, later, _) = call(&["show", "sg", "--date", "2027-06-01"]);
    assert!(later.contains("VERIFY: review was due on 2027-05-25; verify with the National Environment"));
    assert!(today.contains("not in force on 2026-11-25: sg.scheme.first (from 2021-07-01 to 2026-06-30)"));
}

#[test]
fn a_place_without_a_pack_is_sent_to_its_authority() {
    let (code, out, err) = call(&["show", "ZZ"]);
    assert_eq!(code, 0);
    assert!(
        out.contains("any.emergency.now") && err.contains("no rules of ZZ itself are known here: ask"),
        "{err}"
    );
    let (code, _, err) = call(&["show", "Port Ellery"]);
    assert_eq!(code, 2);
    assert!(err.contains("\"Port Ellery\" is not a place"), "{err}");
}

#[test]
fn shown_as_json_every_fact_has_its_source() {
    let (_, out, _) = call(&["show", "US-WA", "--json"]);
    let value: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (value["schema"].as_str(), value["date"].as_str()),
        (Some("celltriage.rules-shown/1"), Some("2026-11-25"))
    );
    let layers = value["layers"].as_array().unwrap();
    let names: Vec<_> = layers.iter().map(|layer| layer["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["*", "air", "US", "US-WA"]);
    for fact in layers.iter().flat_map(|layer| layer["facts"].as_array().unwrap()) {
        for key in
            ["rule", "kind", "text", "source", "seen", "confidence", "verify", "verify_with", "applies_to"]
        {
            assert!(!fact[key].is_null(), "{key} in {fact}");
        }
    }
    let permit =
        layers[3]["facts"].as_array().unwrap().iter().find(|one| one["rule"] == "us-wa.fire.permit").unwrap();
    assert_eq!((&permit["count"]["of"], &permit["count"]["limit"]), (&"stored_volume".into(), &0.42.into()));
}

#[test]
fn a_change_of_law_is_told_with_both_sides() {
    let (code, out, _) = call(&["diff", "FR", "2026-12-08", "2026-12-09"]);
    assert_eq!(code, 0);
    let marks: Vec<_> = out
        .lines()
        .filter(|line| line.starts_with(['-', '+']) && line.contains(" ("))
        .map(|line| line.split(" (").next().unwrap())
        .collect();
    assert_eq!(marks, ["- eu.code.before", "+ eu.code.after", "+ eu.code.names", "+ eu.code.consequence"]);
    let (_, same, _) = call(&["diff", "JP", "2026-12-08", "2026-12-09"]);
    assert!(
        same.starts_with("No fact known here begins or ends between 2026-12-08 and 2026-12-09."),
        "{same}"
    );
    let (code, _, err) = call(&["diff", "FR", "2026-12-09", "2026-12-08"]);
    assert!(code == 2 && err.contains("give the earlier day first"), "{err}");
    let (_, due, _) = call(&["diff", "adr", "2026-12-31", "2027-01-01"]);
    let due = due.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(due.contains("past their review on 2027-01-01, to be verified: adr.number,"), "{due}");
    assert!(due.contains(" adr.ship.critical,"), "{due}");
}

#[test]
fn the_example_of_the_guide_is_a_pack_and_is_used() {
    let (_folder, folder, file) = folder_with("ours.toml", &example());
    let (code, out, err) = call(&["check", &file]);
    assert_eq!((code, err.as_str()), (0, ""), "{err}");
    assert!(out.contains("1 facts for NZ, 0 of them from memory; it is laid over what is built in"), "{out}");
    let (_, list, _) = call(&["list", "--rules", &folder]);
    assert!(list.contains("own:") && list.contains("ours.toml"), "{list}");
    let typed =
        ["cautions", "--rules", &folder, "--place", "NZ", "--condition", "intact", "--action", "store"];
    let (_, page, _) = call(&typed);
    let words = page.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("[lease of the workshop, annex 2; own pack ours.toml]"), "{page}");
}

/// What holds everywhere is never taken away, so the page must not say that it was.
#[test]
fn a_page_says_that_a_rule_stands_in_place_of_another_only_where_it_does() {
    let instead = "instead_of = [\"any.bin\", \"un.number\"]\n";
    let (_folder, folder, _) = folder_with("ours.toml", &format!("{}{instead}", example()));
    let (code, out, err) = call(&["show", "NZ", "--rules", &folder]);
    assert_eq!(code, 0, "{err}");
    let fact = |id: &str| {
        let after = out.split(&format!("\n  {id} (")).nth(1).unwrap_or_else(|| panic!("no {id}: {out}"));
        after.split("\n\n").next().unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert!(fact("un.number").contains("stands in its place"), "{out}");
    assert!(!fact("any.bin").contains("stands in its place"), "{out}");
    let (_, out, _) = call(&["show", "GB"]);
    let words = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("16 06 05 (lithium batteries, not listed as hazardous)"), "{out}");
    assert_eq!(promise_in(&out), None);
}

/// A contradiction is a mistake of the pack like any other: `check` tells it with its place, and the folder is not read.
#[test]
fn two_facts_on_one_subject_are_a_mistake_with_its_place_and_remedy() {
    let clock = "[[rule]]\nid = \"ny.clock\"\nkind = \"counter\"\nstates = [\"intact_waste\"]\n\
                 count = { of = \"time_since_decision\", limit = 1, unit = \"year\", bound = \"at_most\" }\n\
                 text = \"One year.\"\ncite = \"my own\"\nseen = \"official\"\n";
    let head = example().split("[[rule]]").next().unwrap().replace("\"NZ\"", "\"US-NY\"");
    let (_folder, folder, file) = folder_with("ny.toml", &format!("{head}{clock}"));
    let (code, out, err) = call(&["check", &file]);
    assert!(code == 2 && out.is_empty(), "{out}");
    assert!(
        err.contains("ny.toml:10:6: \"us.clock\" and \"ny.clock\" both say what holds of time since"),
        "{err}"
    );
    assert!(err.contains("instead_of = [\"us.clock\"]"), "{err}");
    let (code, _, err) = call(&["list", "--rules", &folder]);
    assert!(code == 2 && err.contains("ny.toml:10:6:"), "{err}");
    let (_folder, _, file) = folder_with("ny.toml", &format!("{head}{clock}instead_of = [\"us.clock\"]\n"));
    assert_eq!(call(&["check", &file]).0, 0);
}

/// The letters that people write for the United Kingdom bring its law, and not that of a place nobody knows.
#[test]
fn common_letters_of_a_country_bring_its_law() {
    let (code, out, err) = call(&["show", "uk"]);
    assert!(code == 0 && !err.contains("no rules of"), "{err}");
    assert!(out.contains("GB · Great Britain") && out.contains("adr · ") && !out.contains("un · "), "{out}");
}

#[test]
fn an_own_pack_says_that_it_stands_in_place_of_a_built_in_one() {
    let (_folder, folder, file) = folder_with("ours.toml", &example().replace("\"NZ\"", "\"US\""));
    let (_, out, _) = call(&["check", &file]);
    assert!(out.contains("it replaces the built-in pack"), "{out}");
    let (_, out, _) = call(&["show", "US", "--rules", &folder]);
    assert!(
        out.contains("own: ours.toml, in place of the built-in one") && !out.contains("us.clock"),
        "{out}"
    );
    let (_, json, _) = call(&["show", "US", "--json", "--rules", &folder]);
    assert!(json.contains(
        "\"source\": \"lease of the workshop, annex 2; own pack ours.toml in place of the built-in one\""
    ));
}

#[test]
fn every_mistake_of_an_own_pack_is_told_with_its_place() {
    let wrong = example()
        .replace("place = \"NZ\"", "place = \"New Zealand\"")
        .replace("kind = \"counter\"", "kind = \"shelf\"")
        .replace("intact_waste", "fresh")
        .replace("Our landlord allows", "It is safe to keep")
        .replace("seen = \"official\"", "sen = \"official\"");
    let (_folder, folder, file) = folder_with("ours.toml", &wrong);
    let (code, out, err) = call(&["check", &file]);
    assert_eq!((code, out.as_str()), (2, ""));
    let places: Vec<_> = err.lines().filter_map(|line| line.strip_prefix(&format!("{file}:"))).collect();
    let places: Vec<_> =
        places.iter().map(|rest| rest.splitn(3, ':').take(2).collect::<Vec<_>>().join(":")).collect();
    assert_eq!(places, ["2:9", "9:1", "11:8", "12:11", "15:8", "17:1"], "{err}");
    assert!(err.contains("6 mistakes in rule packs") && err.contains("host/RULES.md"), "{err}");
    // The same mistakes stop every other command that would have used the pack.
    let (code, _, again) = call(&["list", "--rules", &folder]);
    assert_eq!((code, again), (2, err));
}

#[test]
fn the_guide_names_every_key_and_every_word() {
    let guide = include_str!("../../../../RULES.md");
    let packs = Packs::built_in().unwrap();
    for word in celltriage_rules::RULE_KEYS {
        assert!(guide.contains(&format!("`{word}`")), "{word}");
    }
    for rule in packs.all().iter().flat_map(|pack| &pack.rules) {
        let mut words =
            vec![serde_json::to_value(rule.kind).unwrap(), serde_json::to_value(rule.severity).unwrap()];
        words.extend(rule.states.iter().map(|state| serde_json::to_value(state).unwrap()));
        words.extend(rule.actions.iter().map(|action| serde_json::to_value(action).unwrap()));
        words.extend(rule.by.iter().map(|by| serde_json::to_value(by).unwrap()));
        words.extend(rule.blocks.iter().map(|blocked| serde_json::to_value(blocked).unwrap()));
        if let Some(count) = rule.count {
            words.push(serde_json::to_value(count.of).unwrap());
            words.push(serde_json::to_value(count.unit).unwrap());
            words.push(serde_json::to_value(count.bound).unwrap());
        }
        for word in words {
            assert!(guide.contains(&format!("`{}`", word.as_str().unwrap())), "{word}");
        }
    }
    assert!(packs.all().iter().all(|pack| pack.origin == PackOrigin::BuiltIn));
}

#[test]
fn a_page_of_the_table_of_cautions_reads_as_expected() {
    let typed = ["cautions", "--place", "US", "--condition", "swollen", "--action", "ship"];
    let expected = "\
ship · swollen · US · proposed as damaged or defective, not critical
  WARNING  Never by air: damaged or defective cells go by road, rail or sea
           only. [49 CFR 173.185(f)]
  CAUTION  One cell, one packing: non-metallic inner packing that encloses it,
           cushioning that neither burns nor conducts and absorbs, outer box or
           drum of packing group I. [49 CFR 173.185(f)(1)-(3)]
  WARNING  Should it heat up, hiss, smell or smoke: hands off. Go out, shut the
           door, call the fire service and name lithium-ion. The smoke is toxic;
           even a quiet cell can ignite again weeks later. [ERG 2024 guide 147;
           NFPA lithium-ion tip sheet]
";
    let (code, out, err) = call(&typed);
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.starts_with(expected), "the page is now\n{out}");
    assert!(out.lines().count() <= 24 && promise_in(&out).is_none());
    let (_, hot, _) = call(&["cautions", "--condition", "hissing", "--action", "move"]);
    assert!(hot.starts_with("move · hot, hissing, smoking or smelling now · no place given"), "{hot}");
    assert!(hot.lines().nth(2).unwrap().starts_with("  DANGER   STOP"), "{hot}");
}

#[test]
fn an_own_pack_is_kept_with_the_decision_and_used_again_when_it_is_recomputed() {
    let (_folder, folder, _) = folder_with("ours.toml", &example().replace("\"NZ\"", "\"US\""));
    let tests = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests");
    let (trace, label) =
        (format!("{tests}/traces/two_level.csv"), format!("{tests}/labels/scanner_cell.toml"));
    let book = format!("{folder}/book.sqlite");
    let grade = ["grade", &trace, "--cell", &label, "--place", "US", "--no-signs", "--book", &book, "--json"];
    let (code, out, err) = call_any(&[&grade[..], &["--rules", &folder]].concat());
    assert_eq!(code, 0, "{err}");
    assert!(!out.contains("40 CFR 273.15"), "the built-in rules of the place are not used");
    // Whoever recomputes the decision later does not have the folder any more.
    let (code, out, err) = call_any(&["book", "--book", &book, "recompute", "1"]);
    assert_eq!((code, out.contains("other rule packs")), (0, false), "{out}{err}");
    let export = format!("{folder}/export");
    assert_eq!(call_any(&["book", "--book", &book, "export", "1", &export]).0, 0);
    assert!(
        std::fs::read_to_string(format!("{export}/rules-ours.toml"))
            .unwrap()
            .contains("lease of the workshop")
    );
}

/// The same moment is the 8th of December in Port Ellery's west and the 9th in its east: the day of the place counts.
#[test]
fn the_day_is_that_of_the_place_and_not_of_greenwich() {
    let moment = "2026-12-08T23:30:00Z";
    for (hours, day, code, other) in [
        (0, "2026-12-08", "eu.code.before (waste", "eu.code.after (waste"),
        (1, "2026-12-09", "eu.code.after (waste", "eu.code.before (waste"),
    ] {
        let zone = TimeZone::fixed(jiff::tz::offset(hours));
        let (_, out, _) = call_at(moment, zone, &["rules", "show", "FR"]);
        assert!(out.contains(code) && !out.contains(other), "{day}");
        assert!(out.contains(&format!("not in force on {day}")));
    }
}
