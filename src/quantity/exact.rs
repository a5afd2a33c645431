//! Exact rational numbers that cannot overflow silently.
//!
//! Two words each, with products worked out in twice that. A result that does not fit is
//! [`Exact::OVERFLOW`]: it stays that through every later operation and is greater
//! than every number, so a plan that meets it is refused rather than printed wrong.

use std::cmp::Ordering;
use std::fmt;
use std::num::NonZeroI64;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// An exact rational, or the sign that one did not fit.
///
/// INVARIANT: each number has one form only, in lowest terms, with a denominator greater
/// than 0 and a numerator that can be negated, so that equal numbers are equal forms.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Exact {
    numerator: i64,
    /// Less than 0 only in [`Exact::OVERFLOW`].
    denominator: NonZeroI64,
}

/// Puts it in lowest terms; the denominator is greater than 0.
#[inline]
fn reduced(numerator: i128, denominator: i128) -> Exact {
    match (i64::try_from(numerator), i64::try_from(denominator)) {
        (Ok(n), Ok(1)) => Exact::of(n, 1),
        (Ok(n), Ok(d)) => {
            let common = common_divisor(n.unsigned_abs(), d.unsigned_abs());
            // Not greater than the denominator.
            let common = common as i64;
            Exact::of(n / common, d / common)
        }
        _ => reduced_from_far(numerator, denominator),
    }
}

fn common_divisor(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// The same, with the slow division of numbers of two words.
#[cold]
fn reduced_from_far(numerator: i128, denominator: i128) -> Exact {
    let (mut a, mut b) = (numerator.unsigned_abs(), denominator.unsigned_abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    // Not greater than the denominator.
    let common = a as i128;
    match (
        i64::try_from(numerator / common),
        i64::try_from(denominator / common),
    ) {
        (Ok(n), Ok(d)) => Exact::of(n, d),
        _ => Exact::OVERFLOW,
    }
}

impl Exact {
    pub const OVERFLOW: Exact = Exact {
        numerator: 1,
        denominator: NonZeroI64::new(-1).expect("not 0"),
    };
    pub const ZERO: Exact = Exact {
        numerator: 0,
        denominator: NonZeroI64::new(1).expect("not 0"),
    };
    pub const ONE: Exact = Exact {
        numerator: 1,
        ..Exact::ZERO
    };

    /// In lowest terms already.
    #[inline]
    fn of(numerator: i64, denominator: i64) -> Self {
        match NonZeroI64::new(denominator) {
            Some(denominator) if numerator != i64::MIN => Exact {
                numerator,
                denominator,
            },
            _ => Exact::OVERFLOW,
        }
    }

    pub fn int(value: i64) -> Self {
        Exact::of(value, 1)
    }

    /// `numerator / denominator`; overflow where the denominator is 0.
    pub fn ratio(numerator: i64, denominator: i64) -> Self {
        let (n, d) = (i128::from(numerator), i128::from(denominator));
        match d.signum() {
            0 => Exact::OVERFLOW,
            sign => reduced(sign * n, sign * d),
        }
    }

    /// Reads `12`, `0.25`, `1/3`, with an optional `-` in front. `None` for
    /// anything else, for more than nine digits before or after the point, and
    /// for a denominator of 0.
    pub fn parse(text: &str) -> Option<Self> {
        let (negative, digits) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let part = |digits: &str| -> Option<i64> {
            let plain = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
            (plain && digits.len() <= 9).then(|| digits.parse().ok())?
        };
        let value = if let Some((numerator, denominator)) = digits.split_once('/') {
            let denominator = part(denominator)?;
            if denominator == 0 {
                return None;
            }
            Exact::ratio(part(numerator)?, denominator)
        } else if let Some((whole, fraction)) = digits.split_once('.') {
            let scale = 10i64.checked_pow(u32::try_from(fraction.len()).ok()?)?;
            Exact::int(part(whole)?) + Exact::ratio(part(fraction)?, scale)
        } else {
            Exact::int(part(digits)?)
        };
        Some(if negative { -value } else { value })
    }

    #[inline]
    pub fn is_overflow(self) -> bool {
        self.denominator.get() < 0
    }

    #[inline]
    pub fn is_zero(self) -> bool {
        self.numerator == 0
    }

    #[inline]
    pub fn is_negative(self) -> bool {
        self.numerator < 0
    }

    #[inline]
    pub fn is_integer(self) -> bool {
        self.denominator.get() == 1
    }

    pub fn abs(self) -> Self {
        if self.is_negative() { -self } else { self }
    }

    /// The whole number at or below.
    pub fn floor(self) -> Self {
        self.to_i64_floor().map_or(self, Exact::int)
    }

    /// The whole number at or above.
    pub fn ceil(self) -> Self {
        -(-self).floor()
    }

    /// The whole number at or below; `None` for [`Exact::OVERFLOW`].
    #[inline]
    pub fn to_i64_floor(self) -> Option<i64> {
        let (n, d) = (self.numerator, self.denominator.get());
        (d > 0).then(|| if d == 1 { n } else { n.div_euclid(d) })
    }

    /// Down to a whole multiple of `step`, which must be greater than 0.
    pub fn round_down_to(self, step: Exact) -> Self {
        (self / step).floor() * step
    }

    /// Up to a whole multiple of `step`, which must be greater than 0.
    pub fn round_up_to(self, step: Exact) -> Self {
        (self / step).ceil() * step
    }

    /// Numerator and denominator in lowest terms.
    pub fn parts(self) -> Option<(i64, i64)> {
        (!self.is_overflow()).then_some((self.numerator, self.denominator.get()))
    }

    /// As a decimal with exactly `places` digits after the point where that is
    /// exact, or else `None`.
    pub fn to_decimal(self, places: u32) -> Option<String> {
        let scale = Exact::int(10i64.checked_pow(places)?);
        let scaled = self * scale;
        if !scaled.is_integer() {
            return None;
        }
        let whole = scaled.numerator;
        let sign = if whole < 0 { "-" } else { "" };
        let digits = format!(
            "{:0>width$}",
            whole.unsigned_abs(),
            width = places as usize + 1
        );
        let (head, tail) = digits.split_at(digits.len().saturating_sub(places as usize));
        Some(if tail.is_empty() {
            format!("{sign}{head}")
        } else {
            format!("{sign}{head}.{tail}")
        })
    }
}

impl fmt::Display for Exact {
    /// The shortest exact form: `24`, `0.25`, `1/3`.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for places in 0..=9 {
            if let Some(text) = self.to_decimal(places) {
                return out.write_str(&text);
            }
        }
        match self.parts() {
            Some((numerator, denominator)) => write!(out, "{numerator}/{denominator}"),
            None => out.write_str("(too large)"),
        }
    }
}

impl fmt::Debug for Exact {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{self}")
    }
}

impl Ord for Exact {
    #[inline]
    fn cmp(&self, other: &Self) -> Ordering {
        let (n, d) = (self.numerator, self.denominator.get());
        let (m, e) = (other.numerator, other.denominator.get());
        if d == e {
            return n.cmp(&m);
        }
        if d < 0 || e < 0 {
            return self.is_overflow().cmp(&other.is_overflow());
        }
        (i128::from(n) * i128::from(e)).cmp(&(i128::from(m) * i128::from(d)))
    }
}

impl PartialOrd for Exact {
    #[inline]
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Numerator and denominator.
type Parts = (i128, i128);

impl Exact {
    #[inline]
    fn with(self, other: Exact, operation: impl FnOnce(Parts, Parts) -> Parts) -> Exact {
        if self.is_overflow() || other.is_overflow() {
            return Exact::OVERFLOW;
        }
        let wide = |exact: Exact| {
            (
                i128::from(exact.numerator),
                i128::from(exact.denominator.get()),
            )
        };
        let (numerator, denominator) = operation(wide(self), wide(other));
        reduced(numerator, denominator)
    }
}

impl Add for Exact {
    type Output = Exact;
    #[inline]
    fn add(self, other: Exact) -> Exact {
        self.with(other, |(n, d), (m, e)| {
            if d == e {
                (n + m, d)
            } else {
                (n * e + m * d, d * e)
            }
        })
    }
}

impl Sub for Exact {
    type Output = Exact;
    #[inline]
    fn sub(self, other: Exact) -> Exact {
        self + -other
    }
}

impl Mul for Exact {
    type Output = Exact;
    #[inline]
    fn mul(self, other: Exact) -> Exact {
        self.with(other, |(n, d), (m, e)| (n * m, d * e))
    }
}

impl Div for Exact {
    type Output = Exact;
    #[inline]
    fn div(self, other: Exact) -> Exact {
        if other.is_zero() {
            return Exact::OVERFLOW;
        }
        self.with(other, |(n, d), (m, e)| (m.signum() * n * e, d * m.abs()))
    }
}

impl Neg for Exact {
    type Output = Exact;
    #[inline]
    fn neg(self) -> Exact {
        if self.is_overflow() {
            return self;
        }
        Exact {
            numerator: -self.numerator,
            ..self
        }
    }
}

impl std::iter::Sum for Exact {
    fn sum<I: Iterator<Item = Exact>>(iter: I) -> Self {
        iter.fold(Exact::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use num_bigint::BigInt;
    use num_rational::BigRational;
    use proptest::prelude::{Strategy, prop_oneof};

    #[test]
    fn decimals_and_fractions_are_exact() {
        assert_eq!(Exact::parse("0.25"), Some(Exact::ratio(1, 4)));
        assert_eq!(Exact::parse("1/3"), Some(Exact::ratio(1, 3)));
        assert_eq!(Exact::parse("-2.50"), Some(Exact::ratio(-5, 2)));
        for bad in [
            "",
            ".5",
            "5.",
            "1/0",
            "1/",
            "1e3",
            "1234567890",
            "1.1234567890",
            "--1",
        ] {
            assert_eq!(Exact::parse(bad), None, "{bad}");
        }
    }

    #[test]
    fn overflow_is_sticky_and_greatest() {
        let big = Exact::int(i64::MAX) * Exact::int(2);
        assert!(big.is_overflow());
        assert!((big - big).is_overflow());
        assert!(big > Exact::int(i64::MAX));
        assert!((Exact::ONE / Exact::ZERO).is_overflow());
    }

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig {
            failure_persistence: None,
            ..proptest::prelude::ProptestConfig::with_cases(2000)
        })]

        /// The general arithmetic of numbers without end comes to the same, and what does not
        /// fit is said.
        #[test]
        fn as_in_arithmetic_without_end(
            (n, d, m, e) in (numerator(), denominator(), numerator(), denominator()),
        ) {
            let (a, b) = (Exact::ratio(n, d), Exact::ratio(m, e));
            let general = |n: i64, d: i64| BigRational::new(n.into(), d.into());
            let (x, y) = (general(n, d), general(m, e));
            let is = |exact: Exact, general: BigRational| {
                let fits = |part: &BigInt| i64::try_from(part).ok().filter(|n| *n != i64::MIN);
                // Equal numbers have one form, whichever way they came about.
                exact.parts() == fits(general.numer()).zip(fits(general.denom()))
            };
            proptest::prop_assert!(is(a, x.clone()));
            proptest::prop_assert!(is(a + b, &x + &y));
            proptest::prop_assert!(is(b - a, &y - &x));
            proptest::prop_assert!(is(a * b, &x * &y));
            proptest::prop_assert!(is(-a, -x.clone()));
            proptest::prop_assert!(is(a.floor(), x.floor()));
            proptest::prop_assert!(is(a.ceil(), x.ceil()));
            let floor = i64::try_from(x.floor().to_integer()).ok();
            proptest::prop_assert_eq!(a.to_i64_floor(), floor);
            proptest::prop_assert_eq!(a.is_negative(), n < 0);
            proptest::prop_assert_eq!(a.is_integer(), x.is_integer());
            proptest::prop_assert_eq!(a.cmp(&b), x.cmp(&y));
            if m != 0 {
                proptest::prop_assert!(is(a / b, x / y));
            }
        }
    }

    /// Small, middling and as great as they get.
    fn numerator() -> impl Strategy<Value = i64> {
        prop_oneof![
            -3000..3000i64,
            -(1i64 << 33)..(1 << 33),
            -i64::MAX..=i64::MAX
        ]
    }

    fn denominator() -> impl Strategy<Value = i64> {
        numerator().prop_map(|n| n.abs().max(1))
    }

    #[test]
    fn shown_in_the_shortest_exact_form() {
        assert_eq!(Exact::ratio(1, 3).to_string(), "1/3");
        assert_eq!(Exact::ratio(-1, 8).to_string(), "-0.125");
        assert_eq!(Exact::int(33).to_decimal(1).as_deref(), Some("33.0"));
        assert_eq!(Exact::ratio(1, 100).to_decimal(1), None);
    }
}
