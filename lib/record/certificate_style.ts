/**
 * The look of a certificate: numbered A4 pages that bear its name.
 *
 * @param name What the foot of each page says.
 */
export function certificateStyle(name: string): string {
  const foot = name.replace(/[^\w ,.-]/g, "");
  return `@page {
  size: A4; margin: 12mm 14mm 16mm;
  @bottom-left { content: "Certificate ${foot}"; font: 7.5pt sans-serif; color: #444; }
  @bottom-right { content: "Page " counter(page) " of " counter(pages); font: 7.5pt sans-serif; color: #444; }
}
body { font: 9pt/1.3 sans-serif; color: #111; background: #fff; max-width: 182mm; margin: 0 auto; }
h1 { font-size: 16pt; margin: 0 0 1mm; }
h2 { font-size: 10.5pt; margin: 4mm 0 1mm; border-bottom: 0.3mm solid #888; break-after: avoid; }
.title { font-size: 11pt; margin: 0; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: 0.4mm 2mm 0.4mm 0; vertical-align: top; overflow-wrap: anywhere; font-weight: normal; }
tr, table, svg, .sign, section.whole { break-inside: avoid; }
table.values th { width: 48mm; color: #444; }
table.points td, table.points th { text-align: right; }
table.points th:first-child { text-align: left; }
table.points thead th:first-child { text-align: right; }
table.points tr:first-child th, table.captures tr:first-child th { color: #444; border-bottom: 0.2mm solid #bbb; }
tr.sum > * { border-top: 0.2mm solid #bbb; }
table.captures td { font: 7pt/1.3 monospace; }
p { margin: 1mm 0; overflow-wrap: anywhere; }
ul { margin: 1mm 0; padding-left: 5mm; }
svg { width: 88mm; display: block; margin: 1mm auto; font: 12.5px sans-serif; }
.small { font-size: 7.5pt; color: #333; }
.unstated { margin-top: 3mm; font-style: italic; }
.sign td { border-top: 0.3mm solid #111; padding-top: 1mm; width: 33%; color: #444; font-size: 7.5pt; }
.sign { margin-top: 12mm; border-collapse: separate; border-spacing: 6mm 0; }`;
}
