//! A cell as one lump of heat, solved in closed form; it knows nothing of the judge.
//!
//! C dT/dt = P - (T - T_air)/R with an air that changes linearly and a power that is steady, grows exponentially, or both.
//! With x = T - T_air, tau = R C: x(t) = A + B exp(t/g) + (x0 - A - B) exp(-t/tau), where A = R P - (dT_air/dt) tau and
//! B = R Q/(1 + tau/g) for the growing power Q exp(t/g). Any book on heat transfer has this lumped-capacity solution; it
//! holds while heat spreads inside faster than it leaves (Biot number h L/k: 12 W/(m2 K) x 5 mm / 1 W/(m K) = 0.06, below the usual 0.1; round cells, the conductivity from memory).

/// A cell in still air.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lump {
    /// Heat capacity in J/K.
    pub(super) capacity_j_per_k: f64,
    /// Resistance to the air in K/W.
    pub(super) resistance_k_per_w: f64,
}

impl Lump {
    /// A cell of a mass in g, a specific heat in J/(g K) (0.9 to 1.0 for lithium-ion cells, common practice), a surface in cm2
    /// and a coefficient in W/(m2 K) (natural convection and radiation: 5 to 12, common practice).
    pub(super) fn of(mass_g: f64, specific: f64, surface_cm2: f64, coefficient: f64) -> Self {
        let surface_m2 = surface_cm2 * 1e-4;
        Self { capacity_j_per_k: mass_g * specific, resistance_k_per_w: 1.0 / (coefficient * surface_m2) }
    }

    pub(super) fn time_constant_s(&self) -> f64 {
        self.capacity_j_per_k * self.resistance_k_per_w
    }
}

/// What happens to a cell.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Course {
    /// Over the air at the beginning, in K.
    pub(super) start_k: f64,
    /// Change of the air in K/h.
    pub(super) air_k_per_h: f64,
    /// Steady power in W.
    pub(super) steady_w: f64,
    /// Power at the beginning that grows, in W, and the time in which it doubles, in s.
    pub(super) growing: Option<(f64, f64)>,
}

impl Course {
    /// Returns cell and air at a time, in degC; the air begins at 22.
    pub(super) fn at(&self, lump: &Lump, at_s: f64) -> (f64, f64) {
        let (tau, r) = (lump.time_constant_s(), lump.resistance_k_per_w);
        let air_per_s = self.air_k_per_h / 3_600.0;
        let constant = r * self.steady_w - air_per_s * tau;
        let (begin, now) = match self.growing {
            Some((watts, doubling_s)) => {
                let growth_s = doubling_s / std::f64::consts::LN_2;
                let share = r * watts / (1.0 + tau / growth_s);
                (share, share * (at_s / growth_s).exp())
            }
            None => (0.0, 0.0),
        };
        let rise = constant + now + (self.start_k - constant - begin) * (-at_s / tau).exp();
        let air = 22.0 + air_per_s * at_s;
        (air + rise, air)
    }

    /// Returns the power at a time, in W.
    pub(super) fn power_w(&self, at_s: f64) -> f64 {
        self.steady_w + self.growing.map_or(0.0, |(watts, doubling_s)| watts * (at_s / doubling_s).exp2())
    }
}

/// Two thermometers as they are read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Thermometers {
    /// By how much the cell's reads above the air's, in K.
    pub(super) offset_k: f64,
    /// Standard deviation of a reading, in K.
    pub(super) noise_k: f64,
    /// Time constant with which the cell's follows, from the beginning on, in s.
    pub(super) lag_s: f64,
    /// Swing of the air about its course, in K, in 3 min.
    pub(super) draught_k: f64,
}

/// Numbers by chance from a seed (xorshift; Marsaglia, J. Stat. Softw. 8(14), 2003).
#[derive(Clone, Copy, Debug)]
pub(super) struct Chance(u64);

impl Chance {
    pub(super) fn seeded(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// Returns a number from `low` to `high`.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        low + (high - low) * ((self.0 >> 11) as f64 / (1u64 << 53) as f64)
    }

    /// Returns a number of normal distribution: the sum of twelve uniform ones less six.
    pub(super) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.between(0.0, 1.0)).sum::<f64>() - 6.0
    }
}

#[test]
fn the_closed_form_solves_the_equation() {
    let lump = Lump::of(45.0, 0.95, 100.0, 8.0);
    let course = Course { start_k: 6.0, air_k_per_h: -2.0, steady_w: 0.05, growing: Some((0.02, 900.0)) };
    let (mut cell, step_s) = (28.0, 0.05);
    for tick in 0..72_000u32 {
        let at_s = f64::from(tick) * step_s;
        let (exact, air) = course.at(&lump, at_s);
        assert!((cell - exact).abs() < 2e-3, "{at_s} s: stepwise {cell}, closed form {exact}");
        let into_w = course.power_w(at_s) - (cell - air) / lump.resistance_k_per_w;
        cell += into_w / lump.capacity_j_per_k * step_s;
    }
}
