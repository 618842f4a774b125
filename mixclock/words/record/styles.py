"""The look of the printed record: ink on paper, one weight of line for each meaning, nothing that needs colour."""

_MOST_COLUMNS = 24
_NUMBERS = ",".join(f".n{place} tr>:nth-child({place})" for place in range(1, _MOST_COLUMNS + 1))
_IN_LINE = ",".join(f".s{place} td:nth-child({place})" for place in range(1, _MOST_COLUMNS + 1))

STYLES = (
    f"{_NUMBERS}{{text-align:right;font-variant-numeric:tabular-nums}}\n{_IN_LINE}{{white-space:nowrap}}\n"
    """
:root{--ink:#1c1b19;--soft:#5c5850;--line:#b9b3a6;--paper:#fffdf8;--wash:#f1ede2;--warn:#8a2b06}
*{box-sizing:border-box}
html{font:15px/1.45 "Segoe UI","Helvetica Neue",Arial,sans-serif;color:var(--ink);background:var(--wash)}
body{max-width:1080px;margin:0 auto;padding:2rem 2.2rem;background:var(--paper)}
header{border-top:7px double var(--ink);border-bottom:1px solid var(--ink);padding:.8rem 0 .9rem;margin-bottom:1rem}
h1{font-size:1.9rem;line-height:1.15;margin:0}
h2{font-size:1.15rem;margin:2rem 0 .5rem;padding-bottom:.15rem;border-bottom:2px solid var(--ink)}
h3{font-size:1rem;margin:1.2rem 0 .3rem}
p{margin:.35rem 0;max-width:70ch}
.soft,.empty,caption,figcaption{color:var(--soft)}
nav ul{list-style:none;display:flex;flex-wrap:wrap;gap:.2rem 1rem;padding:0;margin:.4rem 0}
nav a{color:inherit}
table{border-collapse:collapse;width:100%;font-size:.8rem;line-height:1.3;margin:.4rem 0}
caption{text-align:left;caption-side:top;padding:.2rem 0;font-size:.85rem}
th,td{text-align:left;vertical-align:top;padding:.2rem .35rem;border-bottom:1px solid var(--line)}
td,th{overflow-wrap:break-word}
th{border-bottom:1.5px solid var(--ink);font-weight:600;hyphens:auto}
td.missing{font-style:italic;color:var(--warn)}
#table-photos td:last-child{font-family:ui-monospace,monospace;font-size:.72rem;overflow-wrap:anywhere}
#table-statements td:nth-child(5){overflow-wrap:anywhere}
.cautions{border:2px solid var(--ink);padding:.2rem 1rem .6rem;margin-top:1.2rem}
.cautions h2{border:0;margin-top:.6rem}
.verdict{border-left:5px solid var(--ink);padding:.1rem .8rem;margin:.6rem 0}
figure{margin:.6rem 0;break-inside:avoid}
.pictures{display:flex;flex-wrap:wrap;gap:.8rem}
.pictures figure{width:220px}
.pictures img{width:100%;height:auto;border:1px solid var(--line)}
.no-picture p{border:1px dashed var(--line);padding:1rem;font-style:italic}
svg{width:100%;height:auto;display:block;font:9px "Segoe UI","Helvetica Neue",Arial,sans-serif;fill:var(--ink)}
svg .grid{stroke:#ddd7c9;stroke-width:.5}
svg .frame{fill:none;stroke:#8d877a;stroke-width:.7}
svg .air{fill:none;stroke:#1c1b19;stroke-width:1}
svg .slab{fill:none;stroke:#1c1b19;stroke-width:2.2}
svg .dew{fill:none;stroke:#1c1b19;stroke-width:1.4;stroke-dasharray:5 3}
svg .limit{stroke:#8a2b06;stroke-width:1.2;stroke-dasharray:2 2}
svg .below{fill:#8a2b06;fill-opacity:.09}
svg .shut{fill:#fffdf8;stroke:#8d877a;stroke-width:.6;stroke-dasharray:2 2}
svg .open{fill:#d9d3c3;stroke:#5c5850;stroke-width:.6}
svg .doubt{fill:#8d877a;fill-opacity:.55}
svg .likely{stroke:#1c1b19;stroke-width:1.6}
svg .mark{fill:#1c1b19;stroke:#fffdf8;stroke-width:.8}
svg .tick{text-anchor:middle;fill:#5c5850}
svg .scale{text-anchor:end;fill:#5c5850}
svg .unit{fill:#5c5850}
svg .lane{text-anchor:end}
.sign{margin-top:2.4rem;display:flex;gap:2rem}
.sign span{flex:1;border-top:1px solid var(--ink);padding-top:.2rem}
@media (max-width:700px){body{padding:1rem}section{overflow-x:auto}}
@media print{
@page{margin:13mm 12mm}
html{font-size:11.5px;background:#fff}
body{max-width:none;padding:0;background:#fff}
nav{display:none}
table{font-size:8.3px}
th,td{padding:1.2px 2.5px}
#table-photos td:last-child{font-size:6.6px}
thead{display:table-header-group}
tr,.cautions,.verdict,.sign{break-inside:avoid}
h2,h3,caption{break-after:avoid}
section{overflow:visible}
a{text-decoration:none}
}
"""
)
