//! What holds for every document in every form: nothing is lost, nothing that was typed acts.

use crate::document::{
    Banner, Block, Bullets, Document, Emergency, Facts, Heading, Large, Paragraph, Point, Points, Shown,
    Table, Verbatim,
};
use crate::figure::{Axis, Figure, Mark, Panel};
use crate::form::html;
use crate::form::terminal::{Terminal, bare};
use crate::plain::is_hidden;
use crate::text::Text;
use celltriage_rules::Severity;
use proptest::prelude::*;
use textwrap::core::display_width;

/// A paper that has every block, all of one person's words.
fn everything(words: &[String]) -> Document {
    let at = |index: usize| words.get(index % words.len().max(1)).cloned().unwrap_or_default();
    let text = |index: usize| Text::from(at(index)).strong().and(" ").and(Text::from(at(index + 1)).muted());
    let mut paper = Document::paper(at(0));
    paper.notice(at(1)).push(Banner {
        severity: Severity::Warning,
        result: at(2).into(),
        statement: at(3).into(),
        about: text(4),
    });
    paper.push(Emergency::danger([at(5)])).push(Heading::section(at(6)).aside(at(7)));
    paper.push(Heading::label(at(6))).push(Paragraph::of(text(8)).after(2, at(9), 12));
    paper.push(Paragraph::of(at(10)).indented(6)).push(Facts::of([(at(11), at(12))]));
    paper.push(Bullets::of([at(13)]));
    paper.push(Points {
        points: vec![Point {
            text: text(14),
            source: at(15).into(),
            verify_with: Some(at(16)),
            doubt: Some(at(17)),
        }],
    });
    let mut table = Table::under([at(18), at(19)]).widest(&[24]);
    table.row([at(20), at(21)]);
    paper
        .push(table)
        .push(Block::FillIn(vec![at(22).into()]))
        .push(Verbatim { indent: 2, text: at(23).into() });
    let mark = Mark { label: at(24), value: 0.5, figure: "0.5 V".to_owned(), ..Mark::default() };
    let axis = Axis { low: 0.0, high: 1.0 };
    paper.push(
        Figure::of(Panel { heading: at(25).into(), axis, marks: vec![mark], ..Panel::default() })
            .titled(at(26)),
    );
    paper.push(Large {
        words: at(27).into(),
        below: vec![at(28).into()],
        letter_mm: Some(12),
        on: at(29).into(),
        shown: Shown::Everywhere,
    });
    paper.push(Block::Rule).push(Block::Space);
    paper
}

/// What is read of a page: its text, tags taken out, entities as letters.
fn read(page: &str) -> String {
    let body = page.split_once("</style>").map_or("", |(_, body)| body);
    let text: String =
        body.split('<').map(|part| part.split_once('>').map_or(part, |(_, text)| text)).collect();
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&")
}

/// Letters only: lines break anywhere, a banner is spaced and in capitals.
fn letters(text: &str) -> String {
    text.chars().filter(|letter| !letter.is_whitespace()).collect::<String>().to_uppercase()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn both_forms_say_every_word(words in proptest::collection::vec("[a-z<&\"]{1,9}( [0-9]{1,3} mV)?", 30), width in 40usize..120) {
        let paper = everything(&words);
        let (text, page) = (letters(&Terminal::new(width).text(&paper)), letters(&read(&html::page(&paper))));
        for word in words.iter().enumerate().filter(|(index, _)| *index != 24).flat_map(|(_, words)| words.split(' ')) {
            let word = letters(word);
            prop_assert!(text.contains(&word), "{} in the text: {}", word, text);
            prop_assert!(page.contains(&word), "{} in the page: {}", word, page);
        }
    }

    #[test]
    fn nothing_that_was_typed_acts(words in proptest::collection::vec(any::<String>(), 30), width in 40usize..120) {
        let paper = everything(&words);
        let text = Terminal::new(width).text(&paper);
        prop_assert!(text.chars().all(|letter| letter == '\n' || !is_hidden(letter)), "{:?}", text);
        let coloured = Terminal::new(width).coloured(|code| format!("<{}>", bare(code).len())).text(&paper);
        prop_assert!(coloured.chars().all(|letter| letter == '\n' || !is_hidden(letter)), "only our own codes have an escape");
        let page = html::page(&paper);
        prop_assert!(page.chars().all(|letter| letter == '\n' || !is_hidden(letter)), "{:?}", page);
    }

    #[test]
    fn no_tag_of_a_person_survives(words in proptest::collection::vec("[<>&\"'/ a-z]{1,20}", 30)) {
        let tags = |page: String| page.matches('<').count();
        let harmless: Vec<String> = words.iter().map(|words| words.replace(['<', '>', '&', '"'], "x")).collect();
        prop_assert_eq!(tags(html::page(&everything(&words))), tags(html::page(&everything(&harmless))));
        let figure = |words: &[String]| Figure::of(Panel { heading: words.concat().into(), ..Panel::default() }).svg();
        prop_assert_eq!(tags(figure(&words)), tags(figure(&harmless)));
    }

    #[test]
    fn no_line_is_wider_than_the_page(words in proptest::collection::vec("[a-z ]{1,120}", 30), width in 60usize..=100) {
        let mut paper = everything(&words);
        paper.blocks.retain(|block| !matches!(block, Block::Verbatim(_)));
        let text = Terminal::new(width).text(&paper);
        // The result of a banner is a word of the program, spaced on purpose.
        let wide: Vec<&str> = text.lines().filter(|line| display_width(line) > width).collect();
        prop_assert!(wide.iter().all(|line| line.ends_with("WARNING")), "{:?}", wide);
    }
}
