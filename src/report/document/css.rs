//! The style sheet of the document: screen, dark, narrow, A4.
//!
//! Contrast (WCAG 2.2): ink on paper 17 : 1, faint 8.6 : 1, links 8.5 : 1, verdicts 7.3 : 1 or more; in the dark likewise.

/// Rules of the page; those of the drawings follow.
pub(super) const PAGE: &str = "\
:root{--paper:#fff;--text:#1a1a1a;--dim:#474d53;--link:#0b3f8a;--line:#8b9197;--shade:#f2f3f5;--bad:#8c1d00;--good:#004d3c;--warn:#6b4400;color-scheme:light dark}
@media (prefers-color-scheme:dark){:root{--paper:#14181d;--text:#e8eaed;--dim:#b9c0c8;--link:#a8ccff;--line:#68707a;--shade:#1e242b;--bad:#ffb199;--good:#7fe0c4;--warn:#f3cd7a}}
*{box-sizing:border-box}
html{font:16px/1.5 'DejaVu Sans',Arial,'Liberation Sans',sans-serif;background:var(--paper);color:var(--text)}
body{margin:0 auto;padding:1rem;max-width:70rem;overflow-wrap:anywhere}
h1{font-size:1.7rem;line-height:1.2;margin:.5rem 0}
h2{font-size:1.3rem;line-height:1.25;margin:2rem 0 .5rem;padding-top:.5rem;border-top:2px solid var(--text)}
h3{font-size:1.05rem;margin:1.5rem 0 .4rem}
p,ul{margin:.5rem 0;max-width:46rem}
li{margin:.25rem 0}
a{color:var(--link);text-underline-offset:.15em}
a:focus-visible,.scroll:focus-visible{outline:3px solid var(--link);outline-offset:2px}
.faint{color:var(--dim)}
.edition{font-size:.85rem;color:var(--dim)}
.outcome{font-size:1.35rem;font-weight:bold}
.scroll{overflow-x:auto;margin:.75rem 0}
table{border-collapse:collapse;font-size:.9rem;font-variant-numeric:tabular-nums}
caption{text-align:left;font-weight:bold;padding:.25rem 0;position:sticky;left:0}
th,td{text-align:left;vertical-align:top;padding:.25rem .6rem .25rem 0;border-bottom:1px solid var(--line);min-width:5.5em}
th{font-weight:bold}
td,th{overflow-wrap:break-word}
tbody th{font-weight:normal}
.number{text-align:right}
.wide-words{min-width:16em}
tr:target,h3:target,h2:target{background:var(--shade);outline:2px solid var(--link)}
.fails,.depends{color:var(--bad);font-weight:bold}
.tight{color:var(--warn);font-weight:bold}
.holds{color:var(--good)}
pre{font:.85rem/1.45 'DejaVu Sans Mono','Liberation Mono',monospace;background:var(--shade);padding:.6rem;margin:0;width:max-content;min-width:100%}
figure{margin:1rem 0}
figcaption{font-weight:bold;margin:.25rem 0}
.drawing{overflow-x:auto;border:1px solid var(--line)}
.drawing svg{display:block;width:100%;height:auto;min-width:40rem}
.wide .drawing svg{min-width:60rem}
nav ol{columns:2;max-width:46rem;padding-left:2rem}
ul.fine{font-size:.9rem}
@media (min-width:64rem){.half{display:inline-block;width:49%;vertical-align:top}.half .drawing svg{min-width:0}ul.fine{columns:2;max-width:none;column-gap:2rem}}
@media (max-width:40rem){nav ol{columns:1}body{padding:.6rem}}
@page{size:A4 portrait;margin:13mm}
@page sheet{size:A4 landscape;margin:10mm}
@media print{
:root{--paper:#fff;--text:#000;--dim:#333;--link:#000;--line:#777;--shade:#f2f2f2;--bad:#000;--good:#000;--warn:#000;color-scheme:light}
html{font-size:9.5pt;line-height:1.35}
body{max-width:none;padding:0}
p,ul,nav ol{max-width:none}
.scroll,.drawing{overflow:visible}
table{width:100%;font-size:8pt}
table.fine{font-size:7pt}
ul.fine{columns:2;column-gap:6mm;font-size:7.5pt;margin-left:0;padding-left:1.2em}
h2{margin:1.2rem 0 .4rem}
h3{margin:.9rem 0 .3rem}
li{margin:.1rem 0}
caption{position:static;break-after:avoid}
th,td{min-width:0;padding:.15rem .3rem .15rem 0}
.wide-words{min-width:0}
.fine .wide-words{text-align:left}
.short{white-space:nowrap}
th.number,td.number{padding-right:.7rem}
h2#drawing{page:sheet}
thead{display:table-header-group}
tr,figure,li,.whole{break-inside:avoid}
h1,h2,h3,figcaption{break-after:avoid}
p{orphans:3;widows:3}
pre{white-space:pre-wrap;width:auto;font-size:7pt;padding:.3rem}
a{text-decoration:none}
.drawing{border:0}
.drawing svg,.wide .drawing svg{min-width:0;max-height:160mm}
.half{display:inline-block;width:49%;vertical-align:top;margin:.3rem 0}
nav ol{columns:3;font-size:8.5pt}
table.fine th,table.fine td{padding-top:.1rem;padding-bottom:.1rem}
.wide{page:sheet}
nav{break-after:auto}
}
";
