/** The look of pages: text first, quiet colours, light, dark and on paper. */
export const pageStyle = `
:root {
  color-scheme: light dark;
  --paper: #fdfcfa; --ink: #1d2126; --soft: #59636e; --line: #d9d6cf;
  --code: #f3f1ec; --mark: #a3361d; --link: #0b5c85; --warn: #fbeee6;
  --word: #7a3e9d; --text: #2e6b34; --figure: #1a5f9e;
}
@media (prefers-color-scheme: dark) {
  :root {
    --paper: #16191d; --ink: #e4e2dd; --soft: #a2abb5; --line: #3a4048;
    --code: #1f242a; --mark: #f08a68; --link: #7cc0e8; --warn: #33241d;
    --word: #d3a6ee; --text: #9fd0a3; --figure: #8cc4f5;
  }
}
* { box-sizing: border-box; }
html { font-size: 106.25%; scroll-padding-top: 1rem; }
body {
  margin: 0; background: var(--paper); color: var(--ink);
  font-family: Charter, "Bitstream Charter", "Sitka Text", Cambria, "DejaVu Serif", Georgia, serif;
  line-height: 1.6; text-rendering: optimizeLegibility;
}
.skip { position: absolute; left: -100vw; background: var(--paper); padding: .5rem 1rem; }
.skip:focus { left: 0; z-index: 2; }
.sheet { max-width: 50rem; margin: 0 auto; padding: 2.5rem 1.25rem 4rem; }
h1, h2, h3, h4 { line-height: 1.25; margin: 2.2em 0 .6em; text-wrap: balance; }
h1 { font-size: 2rem; margin-top: 0; letter-spacing: -.01em; }
h2 { font-size: 1.4rem; border-bottom: 1px solid var(--line); padding-bottom: .25em; }
h3 { font-size: 1.15rem; }
p, ul, ol { margin: 0 0 1em; }
li { margin-bottom: .25em; }
a { color: var(--link); text-underline-offset: .15em; }
a:focus-visible, summary:focus-visible, [tabindex]:focus-visible { outline: 3px solid var(--link); outline-offset: 2px; }
blockquote { margin: 1.2em 0; padding: .7em 1.1em; border-left: .3rem solid var(--mark); background: var(--warn); }
blockquote > :last-child { margin-bottom: 0; }
code, pre, kbd { font-family: "DejaVu Sans Mono", "Cascadia Code", Menlo, Consolas, monospace; font-size: .82em; }
:not(pre) > code { background: var(--code); padding: .1em .3em; border-radius: .2em; overflow-wrap: anywhere; }
pre { margin: 0; padding: .8em 1em; overflow-x: auto; line-height: 1.5; tab-size: 2; }
.cell { position: relative; margin: 1.6em 0; }
.code > pre, .prose pre { background: var(--code); border-radius: .4em; }
.number { position: absolute; right: calc(100% + .7rem); top: .75em; color: var(--soft); font-size: .75em; font-variant-numeric: tabular-nums; white-space: nowrap; }
.outputs { margin: .7em 0 0; padding-left: 1rem; border-left: 2px solid var(--line); }
.prose, .outputs { overflow: clip; overflow-clip-margin: .5rem; }
.outputs > * + * { margin-top: .7em; }
.outputs pre { padding: .2em 0; }
.outputs pre.stderr { color: var(--soft); }
.outputs pre.error { color: var(--mark); background: var(--warn); padding: .8em 1em; border-radius: .4em; }
figure { margin: .5em 0; }
img { max-width: 100%; height: auto; border-radius: .3em; background: #fff; }
.wide { overflow-x: auto; max-width: 100%; }
.formula { overflow-x: auto; overflow-y: hidden; margin: 1em 0; padding: .1em 0; }
table { border-collapse: collapse; font-size: .92em; font-variant-numeric: tabular-nums; }
th, td { padding: .3em .8em; border-bottom: 1px solid var(--line); text-align: left; vertical-align: top; }
thead th { border-bottom: 2px solid var(--soft); }
details > summary { cursor: pointer; color: var(--soft); }
nav.contents { font-size: .9em; max-width: 50rem; margin: 0 auto; padding: 1.75rem 1.25rem 0; }
nav.contents ol { list-style: none; margin: .5em 0 0; padding: 0 0 1rem; columns: 2 14rem; border-bottom: 1px solid var(--line); }
nav.contents li { margin: 0 0 .4em; line-height: 1.35; break-inside: avoid; }
nav.contents .level-3 { padding-left: 1.1em; }
nav.contents a { color: var(--soft); text-decoration: none; }
nav.contents a:hover { color: var(--link); text-decoration: underline; }
footer { margin-top: 4rem; padding-top: 1rem; border-top: 1px solid var(--line); color: var(--soft); font-size: .85em; }
.hljs-keyword, .hljs-built_in, .hljs-type { color: var(--word); }
.hljs-string, .hljs-regexp { color: var(--text); }
.hljs-number, .hljs-literal { color: var(--mark); }
.hljs-comment { color: var(--soft); font-style: italic; }
.hljs-title { color: var(--figure); }
@media (min-width: 82rem) {
  body.has-contents .sheet { margin-left: max(19rem, calc(50vw - 25rem)); }
  nav.contents { position: fixed; left: max(1.5rem, calc(50vw - 44rem)); top: 2.5rem; width: 15.5rem; max-height: calc(100vh - 5rem); overflow-y: auto; padding: 0; }
  nav.contents ol { columns: auto; border: 0; }
}
@media screen and (prefers-color-scheme: dark) {
  .fringebook-figure > *, .fringebook-report img { filter: invert(.9) hue-rotate(180deg); }
}
@media screen and (max-width: 40rem) {
  .fringebook-report tr { display: block; padding: .3em 0; border-bottom: 1px solid var(--line); }
  .fringebook-report tr > * { display: block; border: 0; padding: 0 .4em !important; }
}
@media (max-width: 56rem) { .number { position: static; display: block; } }
@page {
  size: A4; margin: 15mm 16mm 18mm;
  @bottom-right { content: counter(page) " / " counter(pages); font: 8pt sans-serif; color: #444; }
}
@media print {
  :root { color-scheme: light; --paper: #fff; --ink: #000; --soft: #444; --line: #bbb; --code: #f5f5f5; --mark: #7a1f0a; --link: #000; --warn: #f7f2ee; --word: #4b2266; --text: #1d4622; --figure: #0d3a63; }
  html { font-size: 10pt; }
  .sheet { max-width: none; padding: 0; }
  nav.contents, .skip { display: none; }
  pre { white-space: pre-wrap; overflow-wrap: anywhere; }
  figure, img, table, blockquote { break-inside: avoid; }
  h1, h2, h3, h4, .fringebook-report > p:first-child { break-after: avoid; }
  details::details-content { content-visibility: visible; block-size: auto; }
  footer { margin-top: 1rem; break-inside: avoid; }
  .report footer, .report details:not([open]) { display: none; }
}
`;
