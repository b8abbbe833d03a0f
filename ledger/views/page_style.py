"""How a report looks, on a screen, on a phone and on paper: black on white, hairlines, no colour."""

from __future__ import annotations

_TURNED = """\
@media screen and (max-width: WIDTH) {
  NAME thead { display: none; }
  NAME table, NAME tbody, NAME tfoot, NAME tr { display: block; }
  NAME tr { border-top: 1px solid #b9b5ad; padding: 0.35rem 0; }
  NAME th, NAME td { display: block; padding: 0.08rem 0; text-align: left; border: none !important; }
  NAME tbody th { font-weight: 600; }
  NAME td.figure, NAME td.whole { white-space: normal; }
  NAME td[data-head] { display: grid; grid-template-columns: 9rem 1fr; column-gap: 0.9rem; }
  NAME td[data-head]::before { content: attr(data-head); color: #55524c; }
  NAME td:empty { display: none; }
}
"""
"""A table that is too wide for the screen: each row a list of its own, every figure beside the head of its column."""


def _turned(name: str, width: str) -> str:
    return _TURNED.replace("NAME", f".{name}").replace("WIDTH", width)


_PLAIN = """\
html { color-scheme: light; -webkit-text-size-adjust: 100%; text-size-adjust: 100%; }
body {
  margin: 0 auto; padding: 2.5rem 1.25rem 3rem; max-width: 72rem;
  background: #fff; color: #1b1a18;
  font: 1.0625rem/1.5 "Iowan Old Style", "Palatino Linotype", Palatino, Charter, Georgia,
    "DejaVu Serif", serif;
  font-variant-numeric: lining-nums tabular-nums;
  overflow-wrap: break-word;
}
header { margin-bottom: 2rem; }
h1 { margin: 0 0 0.6rem; font-size: 1.75rem; line-height: 1.2; font-weight: 600; }
h2 { margin: 2.6rem 0 0.6rem; font-size: 1.2rem; line-height: 1.3; font-weight: 600; }
p { margin: 0 0 0.8rem; }
h1, h2, p, ul, dl { max-width: 42rem; }
.lead { font-size: 1.2rem; line-height: 1.45; }
.state { font-style: italic; }
.caution { margin: 1rem 0 1rem 1.5rem; max-width: 40.5rem; font-size: 0.9375rem; }
ul { margin: 0 0 1rem; padding-left: 1.1rem; }
li { margin: 0 0 0.35rem; }
code { font: 0.85em/1.4 ui-monospace, "DejaVu Sans Mono", Consolas, monospace; overflow-wrap: anywhere; }
dl { margin: 0 0 1rem; }
dl div { display: grid; grid-template-columns: 14rem 1fr; column-gap: 1.5rem; padding: 0.15rem 0; }
dt { color: #55524c; }
dd { margin: 0; overflow-wrap: anywhere; }
.source { display: block; color: #55524c; font-size: 0.875rem; line-height: 1.4; }
.table { margin: 1.1rem 0 1.6rem; }
.box { overflow-x: auto; }
table { border-collapse: collapse; font-size: 0.9375rem; line-height: 1.35; }
.caption { margin: 0 0 0.35rem; font-size: 0.9375rem; line-height: 1.35; font-style: italic; }
th { font-weight: 400; text-align: left; }
th, td { padding: 0.24rem 1.4rem 0.24rem 0; vertical-align: baseline; }
th:last-child, td:last-child { padding-right: 0; }
thead th { vertical-align: bottom; color: #55524c; border-bottom: 1px solid #1b1a18; font-size: 0.875rem; }
tfoot th, tfoot td { font-weight: 600; }
tfoot tr:first-child > * { border-top: 1px solid #1b1a18; }
table:not(:has(tfoot)) tbody tr:last-child > *, tfoot tr:last-child > * { border-bottom: 1px solid #b9b5ad; }
.figure { text-align: right; }
td.figure, .whole { white-space: nowrap; }
.sideways { display: none; }
.note { margin: 0.4rem 0 0; font-size: 0.9375rem; }
figure { margin: 1.2rem 0 1.6rem; }
.picture svg { display: block; width: 100%; max-width: 36rem; height: auto; }
figcaption { max-width: 42rem; font-size: 0.9375rem; font-style: italic; padding-top: 0.3rem; }
footer { margin-top: 3rem; border-top: 1px solid #b9b5ad; padding-top: 0.6rem; font-size: 0.875rem; color: #55524c; }
@media (max-width: 40rem) {
  body { padding: 1.25rem 1rem 2rem; font-size: 1rem; }
  h1 { font-size: 1.45rem; }
  .lead { font-size: 1.1rem; }
  .caution { margin-left: 0.8rem; }
  dl div { grid-template-columns: 1fr; padding: 0.3rem 0; }
  table { font-size: 0.875rem; }
  th, td { padding-right: 0.9rem; }
  td:not(.figure):not(.whole) { min-width: 6rem; }
}
@media screen and (min-width: 62rem) {
  .sideways { display: block; margin: 0.2rem 0 0; font-size: 0.875rem; color: #55524c; }
}
@page { margin: 17mm 16mm 18mm; }
@media print {
  html { font-size: 10.5pt; }
  body { max-width: none; padding: 0; color: #000; }
  h1, h2, .caption, .lead { break-after: avoid; }
  h2 { margin-top: 1.8rem; }
  p, li { orphans: 3; widows: 3; }
  tr, figure, li, dl div, .caution, .short { break-inside: avoid; }
  table:has(tfoot) tbody tr:last-child, tfoot tr:not(:last-child) { break-after: avoid; }
  tbody tr:first-child { break-after: avoid; }
  thead { display: table-header-group; }
  tfoot { display: table-row-group; }
  .box { overflow: visible; }
  table { font-size: 0.875rem; }
  th, td { padding-right: 0.9rem; }
  .picture svg { max-width: 110mm; max-height: 200mm; }
}
"""

STYLE = (
    _PLAIN
    + _turned("narrow", "30rem")
    + _turned("middling", "42rem")
    + _turned("broad", "58rem")
    + _turned("wide", "72rem")
)
"""The whole style; what the tables are called stands in the page."""
