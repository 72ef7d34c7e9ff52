//! Days in custody: the overdue comes first, and a day begins where the shop is.

use celltriage_tests::{BY, Shop, call_in};

/// A list that promises the overdue first must not put a thing of today before one that is a year late.
#[test]
fn what_is_overdue_stands_before_what_is_wrong_today() {
    let shop = Shop::of_a_real_day();
    shop.judge("PE-0402", "intact_waste", &[]);
    shop.does(&["container", "open", "IN-1", "--kind", "intact", "--place", "US", "--stands", "shelf"]);
    shop.does(&["container", "place", "IN-1", "PE-0402", "--mass-g", "68.4"]);
    shop.judge("PE-0408", "intact_waste", &["--because", "no use for it"]);
    let late = shop.run("2028-11-25T12:00:00Z", &["due", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&late.out).unwrap();
    let items: Vec<(&str, i64)> = json["due"]
        .as_array()
        .unwrap()
        .iter()
        .map(|item| (item["urgency"].as_str().unwrap(), item["days_left"].as_i64().unwrap()))
        .collect();
    assert!(items.contains(&("now", 0)) && items.contains(&("dated", -366)), "{}", late.out);
    assert!(items.is_sorted_by_key(|(urgency, left)| (*urgency != "alarm", *left)), "{items:?}");
}

/// The waste codes change at midnight where the shop is, not in Greenwich: OJ L, 2025/90657, 9 December 2026.
#[test]
fn a_day_begins_where_the_shop_is() {
    let shop = Shop::of_a_real_day();
    shop.judge("PE-0402", "intact_waste", &[]);
    shop.does(&["container", "open", "IN-1", "--kind", "intact", "--place", "DE", "--stands", "shelf"]);
    shop.does(&["container", "place", "IN-1", "PE-0402", "--mass-g", "68.4"]);
    let book = &shop.book();
    // 22:59 and 23:01 in Greenwich are the two sides of midnight in Germany; so are 10:59 and 11:01 in Auckland's summer.
    for (index, (now, hours, code)) in [
        ("2026-12-08T22:59:00Z", 1, "16 02 15*"),
        ("2026-12-08T23:01:00Z", 1, "16 06 07*"),
        ("2026-12-08T10:59:00Z", 13, "16 02 15*"),
        ("2026-12-08T11:01:00Z", 13, "16 06 07*"),
        ("2026-12-09T07:59:00Z", -8, "16 02 15*"),
        ("2026-12-09T08:01:00Z", -8, "16 06 07*"),
    ]
    .into_iter()
    .enumerate()
    {
        let name = format!("S-{index}");
        let typed = ["shipment", "--book", book, "draft", &name, "--container", "IN-1", "--mode", "road"];
        let rest = ["--receiver", "Gull Point", "--gross-kg", "2", "--json"];
        let zone = jiff::tz::TimeZone::fixed(jiff::tz::offset(hours));
        let made = call_in(now, zone.clone(), &[&typed[..], &rest, &BY].concat(), None);
        assert_eq!(made.code, 0, "{now}: {}", made.err);
        let papers: serde_json::Value = serde_json::from_str(&made.out).unwrap();
        assert_eq!(papers["draft"]["waste_codes"][0]["code"], code, "{now} {hours:+}");
        let give_up = ["shipment", "--book", book, "withdraw", &name, "--because", "a test"];
        assert_eq!(call_in(now, zone, &[&give_up[..], &BY].concat(), None).code, 0);
    }
}
