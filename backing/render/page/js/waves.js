/**
 * What a reed and a click are made of, from the table of the page: the partials of a pitch, the
 * wave of a knock, the noise of a button.  The same laws as in render/reeds.py.
 *
 * @typedef {{partials: number[], bright: number, mellow: number, release: number, gain: number,
 *   pan: number}} Register
 * @typedef {{a4: number, tremolo: number, registers: Record<string, Register>,
 *   knocks: Record<string, number[][]>, attacks: [number, number][],
 *   button: {gain: number, hertz: number, octaves: number, fall: number}, clickGain: number,
 *   clickPan: number, full: number, evenDb: number, evenKey: number, strengthStep: number,
 *   leftHandCents: number, knockRoom: number, bend: number, riseTaus: number,
 *   partialsTaus: number, leadTaus: number, attackTaus: number, breathCurve: number[],
 *   breathSeconds: number, dipSeconds: number, dipDb: number, master: number, lift: number,
 *   middle: number, strongest: number, brightPartial: number, mellowDb: number,
 *   highest: number}} ReedTable
 */

/** Amplitude of so many decibels. @param {number} db */
export const amplitude = (db) => 10 ** (db / 20);
/** Amplitude of a MIDI velocity or volume: its square. @param {number} value */
export const loudnessOf = (value) => (value / 127) ** 2;

/**
 * Amplitudes of the partials of a note, their effective value 1.
 * @param {ReedTable} table @param {Register} register @param {number} hertz @param {number} velocity @param {number} rate
 */
export function levelsOf(table, register, hertz, velocity, rate) {
  const strength = (velocity - table.middle) / (table.strongest - table.middle);
  const found = register.partials
    .map((level, place) => [level, place + 1])
    .filter(([, number]) => number * hertz < table.highest * rate)
    .map(([level, number]) => {
      const gain = (register.bright * strength * Math.log2(number)) / table.brightPartial;
      const loss = table.mellowDb * Math.max(Math.log2((number * hertz) / register.mellow), 0);
      return amplitude(level + gain - loss);
    });
  return evened(found);
}

/** @param {number[]} levels */
function evened(levels) {
  const power = levels.reduce((sum, level) => sum + level * level, 0) / 2;
  return levels.map((level) => level / Math.sqrt(Math.max(power, 1e-12)));
}

/** The same as a reed begins to speak: its upper partials are still to come. @param {number[]} levels */
export const softened = (levels) => evened(levels.map((level, place) => level / (place + 1)));

/**
 * Where a partial of the first reed (0) or the second (1, -1) is at the onset.
 * @param {number} number @param {number} reed
 */
export function phaseOf(number, reed) {
  const twos = Math.log2(number & -number);
  const odd = number >> twos;
  let bits = 0;
  for (let rest = number; rest; rest >>= 1) bits += rest & 1;
  const ahead = bits % 2 ? -1 : 1;
  return 2.1 * odd * odd + (twos * Math.PI) / 2 + (reed * ahead * Math.PI) / 2;
}

/** Seconds of the tau of a reed's rise: between the keys of the table a parabola. @param {ReedTable} table @param {number} key */
export function tauOf(table, key) {
  const keys = table.attacks.map(([each]) => each);
  const near = Math.min(Math.max(key, Math.min(...keys)), Math.max(...keys));
  const total = table.attacks.reduce((sum, [one, seconds]) => {
    const weight = keys
      .filter((other) => other !== one)
      .reduce((found, other) => (found * (near - other)) / (one - other), Math.log(seconds));
    return sum + weight;
  }, 0);
  return Math.exp(total) / table.attackTaus;
}

/**
 * A curve of so many points for the steps of a gain, from 0 to 1.
 * @param {number} points @param {(share: number) => number} height
 */
export function curveOf(points, height) {
  return Float32Array.from({ length: points }, (_, place) => height(place / (points - 1)));
}

/** A knock, sample by sample. @param {ReedTable} table @param {number[][]} partials @param {number} rate */
export function knockWave(table, partials, rate) {
  const longest = Math.max(...partials.map(([, , fall]) => fall));
  const wave = new Float32Array(Math.ceil(longest * table.knockRoom * rate));
  for (const [hertz, level, fall] of partials) {
    if (hertz >= table.highest * rate) continue;
    for (let at = 0; at < wave.length; at += 1) {
      const time = at / rate;
      wave[at] += amplitude(level) * Math.exp(-time / fall) * Math.sin(2 * Math.PI * hertz * time);
    }
  }
  return wave;
}

/** The soft knock of a button: a band of noise, the same each time. @param {ReedTable} table @param {number} rate */
export function buttonWave(table, rate) {
  const { hertz, octaves, fall } = table.button;
  const count = Math.ceil(fall * table.knockRoom * rate);
  const wave = new Float32Array(count);
  const golden = (1 + Math.sqrt(5)) / 2;
  for (let bin = 1; bin < count / 2; bin += 1) {
    const level = Math.exp(-(((2 * Math.log2((bin * rate) / count / hertz)) / octaves) ** 2));
    if (level < 1e-4) continue;
    const turn = 2 * Math.PI * ((bin * bin * golden) % 1);
    for (let at = 0; at < count; at += 1) {
      wave[at] += level * Math.cos((2 * Math.PI * bin * at) / count + turn);
    }
  }
  wave.forEach((noise, at) => {
    const rise = Math.sin((Math.min(at / rate / (fall / 3), 1) * Math.PI) / 2) ** 2;
    wave[at] = rise * Math.exp(-at / rate / fall) * noise;
  });
  const peak = wave.reduce((most, each) => Math.max(most, Math.abs(each)), 1e-12);
  return wave.map((each) => each / peak);
}
