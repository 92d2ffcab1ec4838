/**
 * Numbers that are no whole ones, kept exactly: tempi, and how they are scaled.
 * @typedef {readonly [number, number]} Fraction numerator and denominator, above 0
 */

/** @type {Fraction} */
export const ONE = [1, 1];

/**
 * The greatest number that divides both.
 * @param {number} one @param {number} other
 */
export function gcd(one, other) {
  let [a, b] = [Math.abs(one), Math.abs(other)];
  while (b) [a, b] = [b, a % b];
  return a;
}

/** @param {number} over @param {number} below @returns {Fraction} */
export function fraction(over, below) {
  const shared = gcd(over, below) || 1;
  return [over / shared, below / shared];
}

/** @param {Fraction} one @param {Fraction} other @returns {Fraction} */
export function product(one, other) {
  const a = fraction(one[0], other[1]);
  const b = fraction(other[0], one[1]);
  return fraction(a[0] * b[0], a[1] * b[1]);
}

/** @param {Fraction} one @param {Fraction} other @returns {Fraction} */
export function quotient(one, other) {
  return product(one, [other[1], other[0]]);
}

/** @param {Fraction} number */
export function value(number) {
  return number[0] / number[1];
}

/**
 * The greatest whole number below: exact, as long as the products are.
 * @param {Fraction} number
 */
export function floor(number) {
  const rest = ((number[0] % number[1]) + number[1]) % number[1];
  return (number[0] - rest) / number[1];
}

/** @param {Fraction} number */
export function ceil(number) {
  return -floor([-number[0], number[1]]);
}

/** @param {Fraction} one @param {Fraction} other */
export function same(one, other) {
  return one[0] * other[1] === other[0] * one[1];
}
