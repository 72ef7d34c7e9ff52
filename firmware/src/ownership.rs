//! Who may act and whose run it is: boot number, request numbers, loadings, the token, the owner's last word.
//!
//! Takes the address of each request before anything else looks at it; gives nothing or the refusal. What is addressed to
//! another start of the program, came late or twice, or would make a run without an owner, changes nothing.

use celltriage_protocol::address::Address;
use celltriage_protocol::reply::{Reject, RejectCause};
use celltriage_protocol::request::Kind;
use celltriage_protocol::run::Token;
use celltriage_protocol::units::Micros;

/// Who may act and whose run it is.
#[derive(Clone, Debug, Default)]
pub struct Ownership {
    boot: u32,
    /// The last request number taken.
    number: u32,
    /// Number of the last loading; 0 = none yet.
    loading: u32,
    /// The run under way or the last one: its token, and the event that told its start.
    run: Option<(Token, u32)>,
    last_word: Micros,
}

impl Ownership {
    /// Begins with this start of the program.
    pub fn of(boot: u32) -> Self {
        Self { boot, ..Self::default() }
    }

    /// Returns the boot number.
    pub const fn boot(&self) -> u32 {
        self.boot
    }

    /// Returns the last request number taken.
    pub const fn number(&self) -> u32 {
        self.number
    }

    /// Looks at the address of a request; changes nothing.
    ///
    /// # Errors
    /// [`RejectCause::NoOwner`], [`RejectCause::OtherBoot`] or [`RejectCause::NotAbove`]; never for a stop.
    pub fn admit(&self, address: Option<Address>, kind: Kind) -> Result<(), Reject> {
        let refuse = |cause, asked: u32, limit: u32| {
            Err(Reject { cause, asked: i64::from(asked), limit: i64::from(limit) })
        };
        match (kind, address) {
            // What is unowned is refused under any address, by whoever carries requests out.
            (Kind::Stop | Kind::Unowned, _) | (Kind::Question, None) => Ok(()),
            (Kind::Act, None) => refuse(RejectCause::NoOwner, 0, 0),
            (_, Some(address)) if address.boot != self.boot => {
                refuse(RejectCause::OtherBoot, address.boot, self.boot)
            }
            (Kind::Act, Some(address)) if address.number <= self.number => {
                refuse(RejectCause::NotAbove, address.number, self.number)
            }
            (Kind::Act | Kind::Question, Some(_)) => Ok(()),
        }
    }

    /// Takes the number of a request that acts, so that it cannot come a second time.
    pub fn take(&mut self, address: Option<Address>) {
        self.number = address.map_or(self.number, |address| address.number.max(self.number));
    }

    /// A plan was loaded; returns the number of the loading.
    pub const fn loaded(&mut self) -> u32 {
        self.loading = self.loading.saturating_add(1);
        self.loading
    }

    /// Checks that a start means the last loading.
    ///
    /// # Errors
    /// [`RejectCause::OtherLoading`].
    pub fn check_loading(&self, loading: u32) -> Result<(), Reject> {
        if loading == self.loading {
            return Ok(());
        }
        let (asked, limit) = (i64::from(loading), i64::from(self.loading));
        Err(Reject { cause: RejectCause::OtherLoading, asked, limit })
    }

    /// A run begins, told by the event with this number; its start is the owner's first word.
    pub const fn begin(&mut self, token: Token, first_event: u32, now: Micros) {
        self.run = Some((token, first_event));
        self.last_word = now;
    }

    /// Whoever shows the token of the run under way is there.
    ///
    /// # Errors
    /// [`RejectCause::NoRun`] where none is under way, [`RejectCause::OtherToken`] where it is another's. Nobody was heard
    /// then.
    pub fn hear(&mut self, token: Token, is_active: bool, plan: u32, now: Micros) -> Result<(), Reject> {
        if !is_active {
            return Err(Reject { cause: RejectCause::NoRun, asked: 0, limit: i64::from(plan) });
        }
        self.resume(token, is_active, plan, now).map(|_| ())
    }

    /// The same of an owner who does not know whether the run is still under way; where it is over, nobody is heard. Returns
    /// the event that told its start.
    ///
    /// # Errors
    /// As [`Ownership::hear`], where it is not the run under way or the last one.
    pub fn resume(&mut self, token: Token, is_active: bool, plan: u32, now: Micros) -> Result<u32, Reject> {
        match self.run {
            Some((known, first_event)) if known == token => {
                if is_active {
                    self.last_word = now;
                }
                Ok(first_event)
            }
            _ if is_active => Err(Reject { cause: RejectCause::OtherToken, asked: 0, limit: 0 }),
            _ => Err(Reject { cause: RejectCause::NoRun, asked: 0, limit: i64::from(plan) }),
        }
    }

    /// Returns when the owner was heard last.
    pub const fn last_word(&self) -> Micros {
        self.last_word
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn address(boot: u32, number: u32) -> Option<Address> {
        Some(Address { boot, number })
    }

    #[test]
    fn each_kind_of_request_under_each_address() {
        let mut ownership = Ownership::of(7);
        ownership.take(address(7, 20));
        let cause = |address, kind| ownership.admit(address, kind).err().map(|reject| reject.cause);
        for (kind, bare, late, next, other) in [
            (Kind::Stop, None, None, None, None),
            (Kind::Question, None, None, None, Some(RejectCause::OtherBoot)),
            (
                Kind::Act,
                Some(RejectCause::NoOwner),
                Some(RejectCause::NotAbove),
                None,
                Some(RejectCause::OtherBoot),
            ),
        ] {
            assert_eq!(cause(None, kind), bare, "{kind:?} without an address");
            assert_eq!(cause(address(7, 20), kind), late, "{kind:?} said twice");
            assert_eq!(cause(address(7, 21), kind), next, "{kind:?} with the next number");
            assert_eq!(cause(address(6, 21), kind), other, "{kind:?} to the start before");
        }
    }

    #[test]
    fn only_the_token_of_the_run_under_way_is_a_word() {
        let mut ownership = Ownership::of(1);
        let at = Micros::from_secs;
        assert!(ownership.hear(Token(5), true, 0, at(1)).is_err());
        ownership.begin(Token(5), 40, at(2));
        assert_eq!(ownership.hear(Token(6), true, 0, at(3)).unwrap_err().cause, RejectCause::OtherToken);
        assert_eq!(ownership.hear(Token(5), false, 9, at(3)).unwrap_err().cause, RejectCause::NoRun);
        assert_eq!(ownership.last_word(), at(2));
        assert!(ownership.hear(Token(5), true, 0, at(4)).is_ok());
        assert_eq!(ownership.last_word(), at(4));
        // After the end the last owner is told of it, without being heard.
        assert_eq!(ownership.resume(Token(5), false, 9, at(5)), Ok(40));
        assert_eq!(ownership.resume(Token(6), false, 9, at(5)).unwrap_err().cause, RejectCause::NoRun);
        assert_eq!(ownership.last_word(), at(4));
    }

    #[test]
    fn a_loading_is_started_by_its_own_number_only() {
        let mut ownership = Ownership::default();
        let first = ownership.loaded();
        assert_eq!(ownership.check_loading(first), Ok(()));
        let second = ownership.loaded();
        assert_eq!(ownership.check_loading(first).unwrap_err().cause, RejectCause::OtherLoading);
        assert_eq!(ownership.check_loading(second), Ok(()));
    }
}
