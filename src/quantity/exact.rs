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
pub struct Exact(Form);

/// INVARIANT: each number has one form only, in lowest terms and with a denominator
/// greater than 0, so that equal numbers are equal forms.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
enum Form {
    /// Numerator and denominator, neither beyond [`MOST`]: nearly always. Division of 128
    /// bits is slow, and everything here is reduced by it.
    Small(i64, i64),
    Large(Ratio<i128>),
    Overflow,
}

/// A product of two numbers up to here, and a sum of two such products, fits.
const MOST: i64 = 1 << 30;

impl Form {
    /// Of a ratio in lowest terms.
    fn of(ratio: Ratio<i128>) -> Form {
        match (i64::try_from(*ratio.numer()), i64::try_from(*ratio.denom())) {
            (Ok(n), Ok(d)) if (-MOST..=MOST).contains(&n) && d <= MOST => Form::Small(n, d),
            _ => Form::Large(ratio),
        }
    }

    /// Of what a checked operation gives.
    fn checked(ratio: Option<Ratio<i128>>) -> Form {
        ratio.map_or(Form::Overflow, Form::of)
    }

    /// Puts it in lowest terms; the denominator is greater than 0.
    fn reduced(numerator: i64, denominator: i64) -> Form {
        let (mut a, mut b) = (numerator.unsigned_abs(), denominator.unsigned_abs());
        let (mut n, mut d) = (numerator, denominator);
        if b != 1 {
            while b != 0 {
                (a, b) = (b, a % b);
            }
            let common = a as i64;
            (n, d) = (n / common, d / common);
        }
        if (-MOST..=MOST).contains(&n) && d <= MOST {
            Form::Small(n, d)
        } else {
            Form::Large(Ratio::new_raw(i128::from(n), i128::from(d)))
        }
    }

    fn ratio(self) -> Option<Ratio<i128>> {
        match self {
            Form::Small(n, d) => Some(Ratio::new_raw(i128::from(n), i128::from(d))),
            Form::Large(ratio) => Some(ratio),
            Form::Overflow => None,
        }
    }
}

impl Exact {
    pub const OVERFLOW: Exact = Exact(Form::Overflow);
    pub const ZERO: Exact = Exact(Form::Small(0, 1));
    pub const ONE: Exact = Exact(Form::Small(1, 1));

    pub fn int(value: i64) -> Self {
        Exact(Form::reduced(value, 1))
    }

    /// `numerator / denominator`; overflow where the denominator is 0.
    pub fn ratio(numerator: i64, denominator: i64) -> Self {
        if denominator == 0 {
            return Exact::OVERFLOW;
        }
        Exact(Form::of(Ratio::new(
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
        self.0 == Form::Overflow
    }

    pub fn is_zero(self) -> bool {
        self == Exact::ZERO
    }

    pub fn is_negative(self) -> bool {
        match self.0 {
            Form::Small(n, _) => n < 0,
            Form::Large(_) | Form::Overflow => self < Exact::ZERO,
        }
    }

    pub fn is_integer(self) -> bool {
        self.0.ratio().is_some_and(|ratio| ratio.is_integer())
    }

    pub fn abs(self) -> Self {
        if self.is_negative() { -self } else { self }
    }

    /// The whole number at or below.
    pub fn floor(self) -> Self {
        self.whole(Ratio::floor, |n, d| n.div_euclid(d))
    }

    /// The whole number at or above.
    pub fn ceil(self) -> Self {
        self.whole(Ratio::ceil, |n, d| -(-n).div_euclid(d))
    }

    fn whole(
        self,
        large: impl FnOnce(&Ratio<i128>) -> Ratio<i128>,
        small: impl FnOnce(i64, i64) -> i64,
    ) -> Self {
        Exact(match self.0 {
            Form::Small(n, d) => Form::Small(small(n, d), 1),
            Form::Large(ratio) => Form::of(large(&ratio)),
            Form::Overflow => Form::Overflow,
        })
    }

    /// The whole number at or below, where it fits.
    pub fn to_i64_floor(self) -> Option<i64> {
        match self.0 {
            Form::Small(n, d) => Some(n.div_euclid(d)),
            form => i64::try_from(form.ratio()?.floor().to_integer()).ok(),
        }
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
        self.0.ratio().map(|ratio| (*ratio.numer(), *ratio.denom()))
    }

    /// As a decimal with exactly `places` digits after the point where that is
    /// exact, or else `None`.
    pub fn to_decimal(self, places: u32) -> Option<String> {
        let scale = Exact::int(10i64.checked_pow(places)?);
        let scaled = self * scale;
        if !scaled.is_integer() {
            return None;
        }
        let whole = scaled.0.ratio()?.to_integer();
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
        match self.0.ratio() {
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
    #[inline]
    fn cmp(&self, other: &Self) -> Ordering {
        if let (Form::Small(n, d), Form::Small(m, e)) = (self.0, other.0) {
            return if d == e {
                n.cmp(&m)
            } else {
                (n * e).cmp(&(m * d))
            };
        }
        match (self.0.ratio(), other.0.ratio()) {
            (Some(a), Some(b)) => a.cmp(&b),
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

macro_rules! checked {
    ($trait:ident, $method:ident, $checked:ident, $small:expr) => {
        impl $trait for Exact {
            type Output = Exact;
            fn $method(self, other: Exact) -> Exact {
                if let (Form::Small(n, d), Form::Small(m, e)) = (self.0, other.0) {
                    let (numerator, denominator) = $small((n, d), (m, e));
                    return Exact(Form::reduced(numerator, denominator));
                }
                let both = self.0.ratio().zip(other.0.ratio());
                Exact(Form::checked(both.and_then(|(a, b)| a.$checked(&b))))
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
        if let (Form::Small(n, d), Form::Small(m, e)) = (self.0, other.0) {
            let sign = m.signum();
            return Exact(Form::reduced(sign * n * e, sign * d * m));
        }
        let both = self.0.ratio().zip(other.0.ratio());
        Exact(Form::checked(both.and_then(|(a, b)| a.checked_div(&b))))
    }
}

impl Neg for Exact {
    type Output = Exact;
    fn neg(self) -> Exact {
        match self.0 {
            Form::Small(n, d) => Exact(Form::Small(-n, d)),
            Form::Large(_) | Form::Overflow => Exact::ZERO - self,
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
            let (x, y) = (a.0.ratio().expect("fits"), b.0.ratio().expect("fits"));
            let is = |exact: Exact, general: Option<Ratio<i128>>| {
                // Equal numbers have one form, whichever way they came about.
                exact.0 == Form::checked(general) && exact.0.ratio() == general
            };
            proptest::prop_assert!(is(a + b, x.checked_add(&y)));
            proptest::prop_assert!(is(b - a, y.checked_sub(&x)));
            proptest::prop_assert!(is(a * b, x.checked_mul(&y)));
            proptest::prop_assert!(is(-a, Ratio::from_integer(0).checked_sub(&x)));
            proptest::prop_assert!(is(a.floor(), Some(x.floor())));
            proptest::prop_assert!(is(a.ceil(), Some(x.ceil())));
            proptest::prop_assert_eq!(a.to_i64_floor(), Some(x.floor().to_integer() as i64));
            proptest::prop_assert_eq!(a.is_negative(), x < Ratio::from_integer(0));
            proptest::prop_assert_eq!(a.cmp(&b), x.cmp(&y));
            if m != 0 {
                proptest::prop_assert!(is(a / b, x.checked_div(&y)));
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
