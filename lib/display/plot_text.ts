/**
 * Text for a title or legend of plotly.js, which reads some HTML: untrusted
 * text stays text, on one line and not too long.
 *
 * @param text Untrusted text.
 * @returns Text that plotly.js shows as it is.
 */
export function plotText(text: string): string {
  const short = text.length > 80 ? `${text.slice(0, 79)}…` : text;
  return short.toWellFormed().replace(/\s+/g, " ").replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;").replaceAll(">", "&gt;")
    // Curly brackets with a percent sign are templates in hover texts.
    .replaceAll("%{", "%\u200b{");
}
