//! Exact rational numbers that cannot overflow silently.
//!
//! `num_rational`'s operators wrap in release builds, so only its checked
//! operations are used. A result that does not fit is [`Exact::OVERFLOW`]: it
//! stays that through every later operation and is greater than every number,
//! so a plan that meets it is refused rather than printed wrong.

use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedDiv, CheckedMul, CheckedSub};
use std::cmp::Ordering;
use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// An exact rational, or the sign that one did not fit.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Exact(Option<Ratio<i128>>);

impl Exact {
    pub const OVERFLOW: Exact = Exact(None);
    pub const ZERO: Exact = Exact(Some(Ratio::new_raw(0, 1)));
    pub const ONE: Exact = Exact(Some(Ratio::new_raw(1, 1)));

    pub fn int(value: i64) -> Self {
        Exact(Some(Ratio::from_integer(i128::from(value))))
    }

    /// `numerator / denominator`; overflow where the denominator is 0.
    pub fn ratio(numerator: i64, denominator: i64) -> Self {
        if denominator == 0 {
            return Exact::OVERFLOW;
        }
        Exact(Some(Ratio::new(
            i128::from(numerator),
            i128::from(denominator),
        )))
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

    pub fn is_overflow(self) -> bool {
        self.0.is_none()
    }

    pub fn is_zero(self) -> bool {
        self == Exact::ZERO
    }

    pub fn is_negative(self) -> bool {
        self < Exact::ZERO
    }

    pub fn is_integer(self) -> bool {
        self.0.is_some_and(|ratio| ratio.is_integer())
    }

    pub fn abs(self) -> Self {
        if self.is_negative() { -self } else { self }
    }

    /// The whole number at or below.
    pub fn floor(self) -> Self {
        Exact(self.0.map(|ratio| ratio.floor()))
    }

    /// The whole number at or above.
    pub fn ceil(self) -> Self {
        Exact(self.0.map(|ratio| ratio.ceil()))
    }

    /// The whole number at or below, where it fits.
    pub fn to_i64_floor(self) -> Option<i64> {
        i64::try_from(self.0?.floor().to_integer()).ok()
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
    pub fn parts(self) -> Option<(i128, i128)> {
        self.0.map(|ratio| (*ratio.numer(), *ratio.denom()))
    }

    /// As a decimal with exactly `places` digits after the point where that is
    /// exact, or else `None`.
    pub fn to_decimal(self, places: u32) -> Option<String> {
        let scale = Exact::int(10i64.checked_pow(places)?);
        let scaled = self * scale;
        if !scaled.is_integer() {
            return None;
        }
        let whole = scaled.0?.to_integer();
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
        match self.0 {
            Some(ratio) => write!(out, "{}/{}", ratio.numer(), ratio.denom()),
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
    fn cmp(&self, other: &Self) -> Ordering {
        match (self.0, other.0) {
            (Some(a), Some(b)) => match (small(&a), small(&b)) {
                (Some((n, d)), Some((m, e))) => (n * e).cmp(&(m * d)),
                _ => a.cmp(&b),
            },
            (None, None) => Ordering::Equal,
            (None, Some(_)) => Ordering::Greater,
            (Some(_), None) => Ordering::Less,
        }
    }
}

impl PartialOrd for Exact {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Numerator and denominator where a product of two such numbers, and a sum of two
/// such products, fits: nearly always. Division of 128 bits is slow, and everything
/// here is reduced by it.
fn small(ratio: &Ratio<i128>) -> Option<(i64, i64)> {
    const MOST: i128 = 1 << 30;
    let (numerator, denominator) = (*ratio.numer(), *ratio.denom());
    ((-MOST..=MOST).contains(&numerator) && denominator <= MOST)
        .then_some((numerator as i64, denominator as i64))
}

/// In lowest terms; the denominator is greater than 0.
fn reduced(numerator: i64, denominator: i64) -> Ratio<i128> {
    let (mut a, mut b) = (numerator.unsigned_abs(), denominator.unsigned_abs());
    if b != 1 {
        while b != 0 {
            (a, b) = (b, a % b);
        }
        let common = a as i64;
        return Ratio::new_raw(
            i128::from(numerator / common),
            i128::from(denominator / common),
        );
    }
    Ratio::new_raw(i128::from(numerator), 1)
}

macro_rules! checked {
    ($trait:ident, $method:ident, $checked:ident, $small:expr) => {
        impl $trait for Exact {
            type Output = Exact;
            fn $method(self, other: Exact) -> Exact {
                Exact(match (self.0, other.0) {
                    (Some(a), Some(b)) => match (small(&a), small(&b)) {
                        (Some(a), Some(b)) => {
                            let (numerator, denominator) = $small(a, b);
                            Some(reduced(numerator, denominator))
                        }
                        _ => a.$checked(&b),
                    },
                    _ => None,
                })
            }
        }
    };
}

type Parts = (i64, i64);

checked!(Add, add, checked_add, |(n, d): Parts, (m, e): Parts| {
    if d == e {
        (n + m, d)
    } else {
        (n * e + m * d, d * e)
    }
});
checked!(Sub, sub, checked_sub, |(n, d): Parts, (m, e): Parts| {
    if d == e {
        (n - m, d)
    } else {
        (n * e - m * d, d * e)
    }
});
checked!(Mul, mul, checked_mul, |(n, d): Parts, (m, e): Parts| {
    (n * m, d * e)
});

impl Div for Exact {
    type Output = Exact;
    fn div(self, other: Exact) -> Exact {
        if other.is_zero() {
            return Exact::OVERFLOW;
        }
        Exact(match (self.0, other.0) {
            (Some(a), Some(b)) => match (small(&a), small(&b)) {
                (Some((n, d)), Some((m, e))) => {
                    let sign = m.signum();
                    Some(reduced(sign * n * e, sign * d * m))
                }
                _ => a.checked_div(&b),
            },
            _ => None,
        })
    }
}

impl Neg for Exact {
    type Output = Exact;
    fn neg(self) -> Exact {
        Exact::ZERO - self
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
        let mut big = Exact::int(i64::MAX);
        for _ in 0..4 {
            big = big * big;
        }
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

        /// The quick way for small numbers and the general one are the same.
        #[test]
        fn small_numbers_are_as_all_numbers(
            n in -(1i64 << 31)..(1i64 << 31),
            d in 1i64..(1i64 << 31),
            m in -3000i64..3000,
            e in 1i64..3000,
        ) {
            let (a, b) = (Exact::ratio(n, d), Exact::ratio(m, e));
            let general = |a: Exact, b: Exact| (a.0.expect("fits"), b.0.expect("fits"));
            let (x, y) = general(a, b);
            proptest::prop_assert_eq!((a + b).0, x.checked_add(&y));
            proptest::prop_assert_eq!((b - a).0, y.checked_sub(&x));
            proptest::prop_assert_eq!((a * b).0, x.checked_mul(&y));
            proptest::prop_assert_eq!(a.cmp(&b), x.cmp(&y));
            if m != 0 {
                proptest::prop_assert_eq!((a / b).0, x.checked_div(&y));
            }
        }
    }

    #[test]
    fn shown_in_the_shortest_exact_form() {
        assert_eq!(Exact::ratio(1, 3).to_string(), "1/3");
        assert_eq!(Exact::ratio(-1, 8).to_string(), "-0.125");
        assert_eq!(Exact::int(33).to_decimal(1).as_deref(), Some("33.0"));
        assert_eq!(Exact::ratio(1, 100).to_decimal(1), None);
    }
}
