/**
 * The note that beats, drawn: fonts of phones have no minims.
 *
 * @typedef {{head: "open" | "full", stem: boolean, flags: number, dotted: boolean}} NoteLook
 */
const SVG = "http://www.w3.org/2000/svg";

/** What a note looks like that lasts so much of a whole note. @param {readonly number[]} unit @returns {NoteLook & {name: number}} */
export function lookOf([over, below]) {
  const dotted = over === 3;
  const name = dotted ? below / 2 : below / over;
  return {
    head: name < 4 ? "open" : "full",
    stem: name > 1,
    flags: Math.max(Math.log2(name) - 2, 0),
    dotted,
    name,
  };
}

/** @param {readonly number[]} unit */
export function noteSign(unit) {
  const look = lookOf(unit);
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 14 20");
  svg.setAttribute("class", "beating");
  svg.setAttribute("aria-hidden", "true");
  draw(svg, "ellipse", {
    cx: 4.5, cy: 16, rx: 3.6, ry: 2.5, transform: "rotate(-22 4.5 16)",
    fill: look.head === "full" ? "currentColor" : "none", "stroke-width": 1.3,
  });
  if (look.stem) draw(svg, "path", { d: "M8 15V2", fill: "none", "stroke-width": 1.2 });
  for (let flag = 0; flag < look.flags; flag += 1) {
    const y = 2 + 4 * flag;
    draw(svg, "path", { d: `M8 ${y}q.6 3.6 3.6 6`, fill: "none", "stroke-width": 1.4 });
  }
  if (look.dotted) draw(svg, "circle", { cx: 11.6, cy: 16, r: 1.2, fill: "currentColor" });
  return svg;
}

/** @param {Element} svg @param {string} tag @param {Record<string, string | number>} attributes */
function draw(svg, tag, attributes) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, text] of Object.entries(attributes)) element.setAttribute(name, String(text));
  svg.append(element);
}
