/**
 * The first place in a sorted row whose key is at least `wanted`.
 * @template Row
 * @param {readonly Row[]} rows @param {number} wanted @param {(row: Row) => number} key
 */
export function bisectLeft(rows, wanted, key) {
  let [low, high] = [0, rows.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (key(rows[middle]) < wanted) low = middle + 1;
    else high = middle;
  }
  return low;
}

/**
 * The first place in a sorted row whose key is more than `wanted`.
 * @template Row
 * @param {readonly Row[]} rows @param {number} wanted @param {(row: Row) => number} key
 */
export function bisectRight(rows, wanted, key) {
  let [low, high] = [0, rows.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (key(rows[middle]) <= wanted) low = middle + 1;
    else high = middle;
  }
  return low;
}
