//! `completions`: the lines with which a shell learns to complete what is typed after `celltriage`.

use crate::completing::VARIABLE;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use clap::{Args, ValueEnum};
use clap_complete::env::{EnvCompleter, Shells};

/// A shell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Shell {
    /// Bash: a line `source <(celltriage completions bash)` in ~/.bashrc.
    Bash,
    /// Zsh: a line `source <(celltriage completions zsh)` in ~/.zshrc.
    Zsh,
    /// Fish: `celltriage completions fish > ~/.config/fish/completions/celltriage.fish`.
    Fish,
    /// `PowerShell`: a line `celltriage completions powershell | Out-String | Invoke-Expression` in $PROFILE.
    #[value(name = "powershell")]
    PowerShell,
}

/// Options of `completions`.
#[derive(Debug, Args)]
pub struct CompletionsArguments {
    /// The shell that is to complete.
    pub shell: Shell,
}

impl Shell {
    const fn name(self) -> &'static str {
        match self {
            Self::Bash => "bash",
            Self::Zsh => "zsh",
            Self::Fish => "fish",
            Self::PowerShell => "powershell",
        }
    }
}

/// Runs `completions`: prints the lines. The shell then asks the program itself each time, so it knows the book's names; after an
/// update of celltriage it has to read the lines again.
///
/// # Errors
/// An error where the lines cannot be made.
pub fn run(arguments: &CompletionsArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let name = arguments.shell.name();
    let shells = Shells::builtins();
    let unknown = || Error::input(format!("no lines for {name} are known"));
    let shell: &dyn EnvCompleter = shells.completer(name).ok_or_else(unknown)?;
    let mut lines = Vec::new();
    shell
        .write_registration(VARIABLE, "celltriage", "celltriage", "celltriage", &mut lines)
        .map_err(|error| Error::input(format!("the lines for {name} cannot be made: {error}")))?;
    io.say(&String::from_utf8_lossy(&lines));
    Ok(EXIT_DONE)
}
