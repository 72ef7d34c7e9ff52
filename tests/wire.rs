//! The wire under damage: nothing wrong is accepted, and the next good frame is found.
//!
//! What is checked against: CRC-32/ISO-HDLC has the published check value 0xCBF43926 for "123456789" (catalogue of
//! parametrised CRC algorithms); a random damage passes it with probability 2^-32, so of 10^6 damaged frames 2.3e-4
//! wrong acceptances are expected, and one seen means a fault.

use celltriage_protocol::block::BlockWriter;
use celltriage_protocol::event::Event;
use celltriage_protocol::frame::{self, Frame, MAX_ENCODED, Message};
use celltriage_protocol::splitter::{Split, Splitter};
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius};
use rand::{Rng, RngCore, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A block as the fixture makes them at 1 kHz: quiet voltage with noise, some current.
fn samples(rng: &mut ChaCha8Rng, count: u8, noise_uv: i32) -> Event {
    let mut writer = BlockWriter::new(2, Micros::new(rng.random_range(0..1_000_000_000)), 1_000);
    for _ in 0..count {
        let voltage = MicroVolts::new(3_812_000 + rng.random_range(-noise_uv..=noise_uv));
        let current = MicroAmps::new(1_500_000 + rng.random_range(-500..=500));
        if writer.push(voltage, current).is_err() {
            break;
        }
    }
    let (cell, ambient) = (Ok(MilliCelsius::new(23_117)), Ok(MilliCelsius::new(22_859)));
    Event::Samples(writer.finish(cell, ambient, Ok(MicroCoulombs::new(12_345_678))))
}

fn encoded(sequence: u32, event: &Event) -> Vec<u8> {
    let mut out = [0u8; MAX_ENCODED + 1];
    frame::encode_event(sequence, event, &mut out).expect("an event fits its buffer").to_vec()
}

/// Damages bytes in one of the ways a serial line does; never leaves them as they were.
fn damage(rng: &mut ChaCha8Rng, clean: &[u8]) -> Vec<u8> {
    loop {
        let mut bytes = clean.to_vec();
        match rng.random_range(0..6) {
            0 => {
                for _ in 0..rng.random_range(1..=8) {
                    let at = rng.random_range(0..bytes.len());
                    bytes[at] ^= 1 << rng.random_range(0..8);
                }
            }
            1 => {
                let at = rng.random_range(0..bytes.len());
                let len = rng.random_range(1..=(bytes.len() - at).min(40));
                rng.fill_bytes(&mut bytes[at..at + len]);
            }
            2 => {
                let at = rng.random_range(0..bytes.len());
                bytes.drain(at..(at + rng.random_range(1usize..=20)).min(clean.len()));
            }
            3 => {
                let at = rng.random_range(0..=bytes.len());
                bytes.insert(at, rng.random());
            }
            4 => {
                let (a, b) = (rng.random_range(0..bytes.len()), rng.random_range(0..bytes.len()));
                bytes.swap(a, b);
            }
            _ => bytes.truncate(rng.random_range(0..bytes.len())),
        }
        if bytes != clean {
            return bytes;
        }
    }
}

fn receive(splitter: &mut Splitter, bytes: &[u8]) -> Vec<Frame> {
    let mut frames = Vec::new();
    for &byte in bytes {
        if let Some(Split::Candidate(candidate)) = splitter.push(byte)
            && let Ok(frame) = frame::decode(candidate)
        {
            frames.push(frame);
        }
    }
    frames
}

#[test]
fn a_million_random_damages_let_no_wrong_frame_through_and_the_second_frame_after_is_found() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_125);
    let pool: Vec<(Frame, Vec<u8>)> = (0..64u32)
        .map(|sequence| {
            let count = rng.random_range(1..=60);
            let event = samples(&mut rng, count, 1_200);
            let bytes = encoded(sequence, &event);
            (Frame { sequence, message: Message::Event(event) }, bytes)
        })
        .collect();
    let (mut damaged_runs, mut late) = (0u32, 0u32);
    let mut splitter = Splitter::new();
    while damaged_runs < 1_000_000 {
        let picks: [usize; 3] = std::array::from_fn(|_| rng.random_range(0..pool.len()));
        let broken = damage(&mut rng, &pool[picks[0]].1);
        let frames = receive(&mut splitter, &broken);
        damaged_runs += 1;
        for frame in &frames {
            // A damage that only adds or drops closing zeros, or cuts off after the last byte, leaves the frame whole.
            assert_eq!(frame, &pool[picks[0]].0, "damage {damaged_runs} made a wrong frame");
        }
        // At most the frame next to the damage is lost to it (when the closing zero was what broke).
        let next = receive(&mut splitter, &pool[picks[1]].1);
        if next.first() != Some(&pool[picks[1]].0) {
            late += 1;
        }
        let second = receive(&mut splitter, &pool[picks[2]].1);
        assert_eq!(second, [pool[picks[2]].0.clone()], "not in step again after damage {damaged_runs}");
    }
    println!("1,000,000 damages: no wrong frame; in {late} of them the frame after was lost as well");
    assert!(late < damaged_runs, "the count must have been taken");
}

#[test]
fn noise_without_frames_yields_no_message() {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let mut splitter = Splitter::new();
    let mut noise = vec![0u8; 4_000_000];
    rng.fill_bytes(&mut noise);
    assert_eq!(receive(&mut splitter, &noise), []);
}

#[test]
fn a_kilohertz_of_samples_fits_a_line_of_115200_baud() {
    // 115,200 baud with 8N1 framing carries 11,520 bytes a second; six bytes a sample leave half of it free.
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    for (noise_uv, label) in [(200, "quiet"), (1_200, "0.7 mV rms"), (8_000, "4.6 mV rms")] {
        let (mut bytes, mut count) = (0usize, 0usize);
        for sequence in 0..200u32 {
            let event = samples(&mut rng, 255, noise_uv);
            bytes += encoded(sequence, &event).len();
            if let Event::Samples(block) = &event {
                count += usize::from(block.count);
            }
        }
        let per_sample = bytes as f64 / count as f64;
        println!("{label}: {per_sample:.2} bytes a sample, framing included");
        assert!(per_sample <= 6.0, "{label}: {per_sample}");
    }
}

#[test]
fn the_crc_is_the_published_one() {
    let crc = crc_of_a_frame_without_body();
    assert_eq!(crc, CHECK_OF_HEADER);
}

/// CRC-32/ISO-HDLC of `01 01 00 00 00 00 05`, computed with Python's `binascii.crc32` (zlib, the same algorithm).
const CHECK_OF_HEADER: u32 = 0x802D_F3E0;

fn crc_of_a_frame_without_body() -> u32 {
    use celltriage_protocol::request::Request;
    let mut out = [0u8; MAX_ENCODED + 1];
    let len = frame::encode_request(0, &Request::KeepAlive, &mut out).expect("fits").len();
    let mut plain = out[..len - 1].to_vec();
    let decoded = undo_stuffing(&mut plain);
    assert_eq!(decoded[..7], [1, 1, 0, 0, 0, 0, 5]);
    u32::from_le_bytes(decoded[7..11].try_into().expect("four bytes of CRC"))
}

/// COBS by its definition: each code byte tells the distance to the next zero.
fn undo_stuffing(bytes: &mut [u8]) -> Vec<u8> {
    let (mut out, mut at) = (Vec::new(), 0);
    while at < bytes.len() {
        let code = usize::from(bytes[at]);
        out.extend_from_slice(&bytes[at + 1..at + code]);
        at += code;
        if code < 255 && at < bytes.len() {
            out.push(0);
        }
    }
    out
}
