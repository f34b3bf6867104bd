//! Whole numbers to floats and back, without a cast that could lose anything unseen.

/// Bits of the mantissa of a double that are stored.
const MANTISSA_BITS: u64 = 52;
/// Exponent of a double whose last bit is worth 1.
const UNIT_EXPONENT: u64 = 1_075;

/// The nearest float.
pub(super) fn float(value: i128) -> f64 {
    let size = value.unsigned_abs();
    let part = |shift: u32| f64::from(u32::try_from((size >> shift) & u128::from(u32::MAX)).unwrap_or_default());
    let turn = 4_294_967_296.0;
    let float = ((part(96) * turn + part(64)) * turn + part(32)) * turn + part(0);
    if value < 0 { -float } else { float }
}

/// The largest whole number not above a float that is at least 0; what is negative or not finite gives 0.
pub(super) fn floor(value: f64) -> i128 {
    if !value.is_finite() || value < 1.0 {
        return 0;
    }
    let bits = value.to_bits();
    let mantissa = i128::from(bits & ((1 << MANTISSA_BITS) - 1)) | (1 << MANTISSA_BITS);
    let exponent = bits >> MANTISSA_BITS;
    match exponent.checked_sub(UNIT_EXPONENT) {
        Some(up) if up < 70 => mantissa << up,
        Some(_) => i128::MAX,
        None => mantissa >> (UNIT_EXPONENT - exponent).min(63),
    }
}

/// The smallest whole number not under a float.
pub(super) fn ceil_signed(value: f64) -> i128 {
    if value < 0.0 { -floor(-value) } else { floor(libm::ceil(value)) }
}

/// A part of a whole; 0 of nothing.
pub(in crate::fleet) fn share(part: i128, whole: i128) -> f64 {
    if whole == 0 { 0.0 } else { float(part) / float(whole) }
}

/// The greatest number that divides both.
pub(super) fn common(a: i128, b: i128) -> i128 {
    if b == 0 { a } else { common(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn whole_numbers_go_there_and_back(value in 0_i64..(1 << 53), share in 0.0..0.999_f64) {
            prop_assert_eq!(floor(float(i128::from(value))), i128::from(value));
            let small = value % (1 << 40);
            let between = float(i128::from(small)) + share;
            prop_assert_eq!(floor(between), i128::from(small));
            prop_assert_eq!(ceil_signed(between) - floor(between), i128::from(between > float(i128::from(small))));
        }
    }

    #[test]
    fn what_is_no_count_is_none() {
        assert_eq!([floor(-3.0), floor(f64::NAN), floor(0.99), ceil_signed(-2.5), ceil_signed(0.01)], [0, 0, 0, -2, 1]);
        assert_eq!(float(-(1 << 80)), -1_208_925_819_614_629_174_706_176.0);
        assert_eq!(common(180, 84), 12);
    }
}
