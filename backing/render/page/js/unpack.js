/**
 * What is packed in the page: deflated, in base64.
 * @param {string} text @returns {Promise<any>} what its JSON says
 */
export async function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return JSON.parse(await new Response(stream).text());
}
