//! A file that is to be a program: everything that is not one, whole and for this fixture, is refused, and says why.
//!
//! The files come from two makers that know nothing of the check: `firmware/boards/pico2/make_uf2.py` and
//! `firmware/boards/simulated/src/image.rs`.

use celltriage_instrument::update::fault::{ImageFault, Misfit};
use celltriage_instrument::update::image::{Image, ProgramName};
use celltriage_protocol::image_marker::{LENGTH, of_this_program};
use celltriage_protocol::limits;
use celltriage_simulated_board::boot_program::BootProgram;
use celltriage_simulated_board::image::{content, seal, uf2};
use celltriage_tests::read_of_project;
use proptest::prelude::*;
use std::path::Path;
use std::process::Command;

const MARKER: [u8; LENGTH] = of_this_program("pico2", "A", Some("0123456789ab"));
/// Of the simulated image and of a real one alike (`START_BLOCK` in its source).
const START_BLOCK: usize = 0x114;
const MARKER_AT: usize = START_BLOCK + 92;
const BLOCK: usize = 512;
const PAGES: usize = 20;

fn flash() -> Vec<u8> {
    content(&MARKER, PAGES, 5)
}

fn file() -> Vec<u8> {
    uf2(&flash())
}

fn refused(file: Vec<u8>) -> ImageFault {
    Image::read(file).expect_err("it is no program")
}

/// The file with a change in its content, sealed again.
fn with(change: impl FnOnce(&mut Vec<u8>)) -> Vec<u8> {
    let mut content = flash();
    change(&mut content);
    seal(&mut content);
    uf2(&content)
}

/// The file with a field of one block changed.
fn with_field(block: usize, at: usize, value: u32) -> Vec<u8> {
    let mut file = file();
    file[BLOCK * block + at..][..4].copy_from_slice(&value.to_le_bytes());
    file
}

#[test]
fn a_whole_image_says_which_program_it_is() {
    let image = Image::read(file()).expect("whole");
    let name = ProgramName {
        board: "pico2".into(),
        revision: Some("A".into()),
        commit: Some("0123456789ab".into()),
        wire_versions: (1, 2),
        limits: format!("{:016x}", limits::DIGEST),
    };
    assert_eq!(*image.name(), name);
    assert_eq!(image.sha256().len(), 64);
    assert_eq!(image.pieces().concat(), file());
    assert_eq!(image.pieces().map(<[u8]>::len), [BLOCK, BLOCK * (PAGES - 2), BLOCK]);
    assert_eq!(image.must_fit(&name), Ok(()));
}

#[test]
fn what_is_no_program_says_why() {
    for (bytes, fault) in [
        (Vec::new(), ImageFault::NotUf2),
        (b"\x7fELF and more".repeat(100), ImageFault::NotUf2),
        (file()[..BLOCK * 7].to_vec(), ImageFault::CutOff { found: 7, of: PAGES }),
        (file()[..BLOCK * 7 + 100].to_vec(), ImageFault::CutOff { found: 7, of: PAGES }),
        (with_field(0, 28, 0xE48B_FF56), ImageFault::OtherChip { family: 0xE48B_FF56 }),
        (with_field(3, 12, 0x1010_0000), ImageFault::Outside { address: 0x1010_0000 }),
        (with_field(3, 12, 0x2000_0000), ImageFault::Outside { address: 0x2000_0000 }),
        (with_field(3, 12, 0xFFFF_FFF0), ImageFault::Outside { address: 0xFFFF_FFF0 }),
        (with_field(3, 12, 0x1000_0000), ImageFault::Twice { address: 0x1000_0000 }),
        (with_field(3, 12, 0x1000_8000), ImageFault::Gap { address: 0x1000_0400 }),
        (with_field(3, 16, 255), ImageFault::Block { block: 3, what: "length" }),
        (with_field(3, 8, 0), ImageFault::Block { block: 3, what: "flag" }),
        (with(|content| content[MARKER_AT] ^= 1), ImageFault::NoMarker),
        (with(|content| content.copy_within(MARKER_AT..MARKER_AT + 72, 0x400)), ImageFault::Markers(2)),
    ] {
        assert_eq!(refused(bytes), fault);
    }
    let mut unsealed = flash();
    unsealed[START_BLOCK + 8..][..4].copy_from_slice(&0x0000_12FE_u32.to_le_bytes());
    assert_eq!(refused(uf2(&unsealed)), ImageFault::NotSealed);
    unsealed[START_BLOCK] = 0;
    assert_eq!(refused(uf2(&unsealed)), ImageFault::NoStartBlock);
    assert!(matches!(refused(with(|content| content[MARKER_AT + 20] ^= 1)), ImageFault::Marker(_)));
}

#[test]
fn blocks_in_the_order_of_their_addresses_are_refused() {
    let (file, mut blocks) = (file(), Vec::new());
    blocks.extend(file.chunks(BLOCK).map(<[u8]>::to_vec));
    blocks.sort_by_key(|block| block[12..16].iter().rev().copied().collect::<Vec<u8>>());
    for (number, block) in (0u32..).zip(&mut blocks) {
        block[20..24].copy_from_slice(&number.to_le_bytes());
    }
    assert_eq!(refused(blocks.concat()), ImageFault::Order);
}

#[test]
fn a_program_for_another_board_revision_or_host_is_none_for_this_fixture() {
    let running = Image::read(file()).expect("whole").name().clone();
    let marked = |marker: [u8; LENGTH]| {
        let image = Image::read(with(|content| content[MARKER_AT..][..LENGTH].copy_from_slice(&marker)));
        image.expect("whole").must_fit(&running).expect_err("it does not fit").to_string()
    };
    let text = marked(of_this_program("pico3", "A", None));
    assert_eq!(text, "the image is for the board `pico3`, and this fixture's is `pico2`");
    let text = marked(of_this_program("pico2", "B", None));
    assert_eq!(text, "the image is for revision B of the board, and this fixture's is A");
    let unknown = ProgramName { revision: None, ..running };
    let fits = Image::read(file()).expect("whole").must_fit(&unknown);
    assert!(matches!(fits, Err(Misfit::Revision { fixture, .. }) if fixture == "not known"));
}

/// A program as the linker leaves it: a file of two pieces, its start block without a digest.
fn elf(content: &[u8]) -> Vec<u8> {
    let mut content = content.to_vec();
    content[START_BLOCK + 8..][..72].fill(0);
    content[START_BLOCK + 8..][..4].copy_from_slice(&0x0000_12FE_u32.to_le_bytes());
    let (cut, head) = (0x500, 52 + 2 * 32);
    let word = |value: usize| u32::try_from(value).expect("small").to_le_bytes();
    let mut elf = b"\x7fELF\x01\x01".to_vec();
    elf.resize(52, 0);
    elf[28..32].copy_from_slice(&word(52));
    elf[42..46].copy_from_slice(&[32, 0, 2, 0]);
    for (from, to) in [(0, cut), (cut, content.len())] {
        let at = 0x1000_0000 + from;
        elf.extend([1, head + from, at, at, to - from, to - from, 5, 4].map(word).concat());
    }
    elf.extend(content);
    elf
}

#[test]
fn both_makers_make_the_same_file_and_the_check_and_the_boot_program_take_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../firmware/boards/pico2/make_uf2.py");
    // The last page is not full: the second maker fills it as the first does.
    let mut content = flash();
    content.truncate(PAGES * 256 - 100);
    let program = elf(&content);
    content.resize(PAGES * 256, 0xFF);
    seal(&mut content);
    std::fs::write(folder.path().join("program"), program).expect("written");
    let made = Command::new("python3")
        .arg(script)
        .arg("program")
        .current_dir(folder.path())
        .output()
        .expect("python3");
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let made = std::fs::read(folder.path().join("program.uf2")).expect("the file");
    assert!(made == uf2(&content), "the makers differ");
    Image::read(made.clone()).expect("the check takes it");
    let mut chip = BootProgram::with(&[]);
    for block in made.chunks(BLOCK) {
        assert!(!chip.starts());
        chip.take(block);
    }
    assert!(chip.starts() && chip.flash().starts_with(&content));
}

#[test]
fn the_programs_part_of_the_flash_is_the_linkers() {
    let memory = read_of_project("firmware/boards/pico2/memory.x");
    assert!(memory.contains("FLASH : ORIGIN = 0x10000000, LENGTH = 1M"), "{memory}");
    let board = read_of_project("firmware/boards/pico2/src/board.rs");
    assert!(board.contains("CALIBRATION_AT: u32 = 1 << 20"));
    assert_eq!(celltriage_instrument::update::uf2::PROGRAM, 0x1000_0000..0x1000_0000 + (1 << 20));
}

/// The file that the real board's program was made into; `tests/run pico2` builds it before.
#[test]
#[ignore = "needs the real board's program: tests/run pico2"]
fn the_real_boards_file_is_taken_and_cut_anywhere_it_is_not_started() {
    let name = "target/pico2/thumbv8m.main-none-eabihf/release/celltriage-pico2-board.uf2";
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(name);
    let file = std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let image = Image::read(file.clone()).expect("whole");
    assert_eq!((image.name().board.as_str(), image.name().revision.as_deref()), ("pico2", Some("A")));
    assert_eq!(image.name().limits, format!("{:016x}", limits::DIGEST));
    let mut chip = BootProgram::with(&flash());
    for block in file.chunks(BLOCK) {
        chip.take(block);
        assert_eq!(chip.starts(), block == image.pieces()[2], "after a block");
    }
}

proptest! {
    #[test]
    fn a_file_cut_anywhere_is_refused(length in 0..PAGES * BLOCK) {
        let fault = refused(file()[..length].to_vec());
        let told = matches!(fault, ImageFault::NotUf2 | ImageFault::CutOff { .. });
        prop_assert!(told, "{fault:?}");
    }

    #[test]
    fn any_changed_byte_is_refused(at in 0..PAGES * BLOCK, by in 1u8..=255) {
        let mut file = file();
        file[at] ^= by;
        prop_assert!(Image::read(file).is_err(), "byte {at} by {by:#x}");
    }

    #[test]
    fn a_block_too_few_twice_or_elsewhere_is_refused(one in 0..PAGES, other in 0..PAGES) {
        let file = file();
        let blocks: Vec<&[u8]> = file.chunks(BLOCK).collect();
        let mut missing = blocks.clone();
        missing.remove(one);
        prop_assert!(Image::read(missing.concat()).is_err());
        let mut added = blocks.clone();
        added.insert(other, blocks[one]);
        prop_assert!(Image::read(added.concat()).is_err());
        let mut instead = blocks.clone();
        instead[one] = blocks[other];
        prop_assert_eq!(Image::read(instead.concat()).is_ok(), one == other);
        let mut exchanged = blocks.clone();
        exchanged.swap(one, other);
        prop_assert_eq!(Image::read(exchanged.concat()).is_ok(), one == other);
    }

    #[test]
    fn anything_else_is_refused_without_a_panic(
        mut bytes in proptest::collection::vec(any::<u8>(), 0..4 * BLOCK),
        marked in any::<bool>(),
    ) {
        if marked && bytes.len() >= 8 {
            bytes[..8].copy_from_slice(&file()[..8]);
        }
        prop_assert!(Image::read(bytes).is_err());
    }
}

#[test]
fn every_byte_of_every_head_matters() {
    let whole = file();
    for block in 0..PAGES {
        for at in (0..32).chain(288..BLOCK) {
            let mut changed = whole.clone();
            changed[BLOCK * block + at] ^= 1;
            assert!(Image::read(changed).is_err(), "byte {at} of block {block}");
        }
    }
}
