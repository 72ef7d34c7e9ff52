//! An emulated fixture: the emulator as a process, its serial port, and a thread that plays its bench.

use crate::player::{Scene, lock, play};
use crate::program::program;
use crate::trace::Trace;
use celltriage_link::SerialLink;
use celltriage_simulated_board::bench::Bench;
use celltriage_simulated_board::library::LibraryCell;
use celltriage_simulated_board::options::Options;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex, MutexGuard};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

const EMULATOR: &str = "qemu-system-arm";
/// An instruction counts as 2^3 = 8 ns: about what the real board's processor needs at 150 MHz and 1.2 cycles each.
const NS_PER_INSTRUCTION_SHIFT: u32 = 3;
/// Time that one instruction counts as, in nanoseconds.
pub const NS_PER_INSTRUCTION: f64 = (1 << NS_PER_INSTRUCTION_SHIFT) as f64;
/// Real time that anything here may take before a test gives up.
pub const PATIENCE: Duration = Duration::from_secs(300);

/// The machine. Dropping it pulls the plug.
#[derive(Debug)]
pub struct Machine {
    /// Name of its serial port.
    pub port: String,
    scene: Arc<Mutex<Scene>>,
    process: Child,
    trace: Trace,
    player: Option<JoinHandle<()>>,
}

impl Machine {
    /// Powers up a fixture with a cell on it.
    pub fn with_cell(cell: &LibraryCell, options: &Options) -> Self {
        Self::power_up(Arc::new(Mutex::new(Scene::new(Bench::new(cell.parameters.clone(), options)))))
    }

    /// Powers up a fixture in a scene.
    pub fn power_up(scene: Arc<Mutex<Scene>>) -> Self {
        let starts = lock(&scene).starts.len();
        let trace = Trace::new();
        let mut process = Command::new(EMULATOR)
            .args(["-machine", "mps2-an505", "-cpu", "cortex-m33", "-display", "none", "-monitor", "none"])
            .args(["-serial", "pty", "-semihosting-config", "enable=on,target=native"])
            .args(["-icount", &format!("shift={NS_PER_INSTRUCTION_SHIFT}"), "-d", "in_asm", "-D"])
            .arg(trace.path())
            .arg("-kernel")
            .arg(&program().path)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit())
            .spawn()
            .unwrap_or_else(|error| {
                panic!("{EMULATOR}: {error}. Run tests/emulator/setup first: it installs it")
            });
        let mut answers = process.stdin.take().expect("a pipe");
        let mut questions = BufReader::new(process.stdout.take().expect("a pipe"));
        // The emulator's first line tells where its serial port is; all that follows is the program's.
        let mut line = String::new();
        questions.read_line(&mut line).expect("the emulator tells its port");
        let port = line.split(' ').find(|word| word.starts_with("/dev/")).map(str::to_owned);
        let port = port.unwrap_or_else(|| panic!("{EMULATOR} tells no serial port: {line:?}"));
        let shared = Arc::clone(&scene);
        let player = std::thread::spawn(move || {
            // Ends when the emulator is gone: its pipe breaks.
            let _ended = play(&shared, &mut questions, &mut answers);
        });
        let machine = Self { port, scene, process, trace, player: Some(player) };
        machine.wait_for("the program's start", |scene| scene.starts.len() > starts);
        machine
    }

    /// Opens the serial port as the host does.
    pub fn link(&self) -> SerialLink {
        SerialLink::open(&self.port).expect("the emulator's port opens")
    }

    /// Looks at the scene, or changes it; the fixture waits meanwhile.
    pub fn scene(&self) -> MutexGuard<'_, Scene> {
        lock(&self.scene)
    }

    /// Waits in real time until something is so.
    pub fn wait_for(&self, what: &str, is_so: impl Fn(&Scene) -> bool) {
        let begun = Instant::now();
        while !is_so(&self.scene()) {
            assert!(begun.elapsed() < PATIENCE, "waited in vain for {what}");
            std::thread::sleep(Duration::from_millis(1));
        }
    }

    /// Pulls the plug; returns the scene, in which the chips have lost their power too.
    pub fn unplug(self) -> Arc<Mutex<Scene>> {
        let scene = Arc::clone(&self.scene);
        drop(self);
        lock(&scene).bench.power_cycle();
        scene
    }
}

impl Drop for Machine {
    fn drop(&mut self) {
        // Either may fail only where the process is gone already.
        let _gone = self.process.kill();
        let _gone = self.process.wait();
        self.trace.keep();
        if let Some(player) = self.player.take() {
            let ended = player.join();
            if !std::thread::panicking() {
                ended.expect("the bench was played without fault");
            }
        }
    }
}
