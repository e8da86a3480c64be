"""The look of the report's page: one sheet of style for a phone, a screen and paper. No colour tells anything alone."""

from __future__ import annotations

# Text is ink, quiet, red or green on paper or tint: any of the first on any of the last is over 4.5 to 1.
INK, QUIET, RED, GREEN = "#111111", "#4a4a4a", "#a3003f", "#17682a"
PAPER, TINT = "#ffffff", "#f6f3ee"
EDGE = "#767676"  # of what has a frame that matters: over 3 to 1

STYLE = f"""
@page {{ size: auto; margin: 14mm 13mm 16mm; @bottom-right {{ content: counter(page) " / " counter(pages);
  font: 9pt Arial, Helvetica, sans-serif; color: {INK}; }} }}
* {{ box-sizing: border-box; }}
html {{ font: 1rem/1.45 Arial, Helvetica, "Liberation Sans", sans-serif; color: {INK}; background: {PAPER};
  color-scheme: light; -webkit-text-size-adjust: 100%; }}
body {{ margin: 0 auto; padding: 1rem; max-width: 56rem; overflow-wrap: break-word; }}
h1 {{ font-size: 1.45rem; line-height: 1.2; margin: 0 0 .7rem; }}
h2 {{ font-size: 1.15rem; margin: 1.8rem 0 .6rem; padding-bottom: .15rem; border-bottom: 2px solid {INK}; }}
h3 {{ font-size: 1rem; margin: 0 0 .25rem; }}
p, ul, ol, dl, table, figure {{ margin: 0 0 .7rem; }}
p, li, dd {{ max-width: 46rem; }}
dl.facts {{ display: grid; grid-template-columns: minmax(6rem, max-content) 1fr; gap: .15rem .9rem; }}
dl.facts dt, dl.ratings dt {{ color: {QUIET}; }}
dl.facts dd, dl.ratings dd {{ margin: 0; }}
dl.ratings {{ display: grid; grid-template-columns: minmax(7rem, 11rem) 1fr; gap: .1rem .9rem; }}
.alarm {{ border: 4px double {RED}; padding: .5rem .8rem; font-weight: bold; color: {RED}; }}
.alarm p {{ margin: 0; }}
.result {{ border: 3px solid {INK}; padding: .6rem .9rem; margin-bottom: .9rem; }}
.alarm {{ margin-bottom: .9rem; }}
.result p:last-child {{ margin-bottom: 0; }}
.result .end {{ font-size: 1.2rem; font-weight: bold; }}
ol.done {{ list-style: none; padding: 0; }}
ol.done > li {{ padding: .4rem 0 .4rem 2.5rem; position: relative; border-bottom: 1px solid {EDGE};
  max-width: none; }}
ol.done > li.step, ol.done > li.note, ol.done > li.left-out {{ color: {QUIET}; padding-top: .15rem;
  padding-bottom: .15rem; }}
.number {{ position: absolute; left: 0; top: .45rem; width: 1.7rem; height: 1.7rem; line-height: 1.5rem;
  text-align: center; font-weight: bold; border: 2px solid {GREEN}; color: {GREEN}; border-radius: 50%; }}
.number.off {{ border: 3px solid {RED}; color: {RED}; border-radius: 0; line-height: 1.35rem; }}
.dash {{ position: absolute; left: .7rem; }}
.tag {{ font-size: .8rem; font-weight: bold; border: 1px solid {INK}; padding: 0 .35rem; white-space: nowrap; }}
.title {{ font-weight: bold; }}
.both {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(9.5rem, 1fr)); gap: 0 1rem; max-width: 34rem; }}
.both span {{ color: {QUIET}; }}
.small {{ font-size: .9rem; }}
ol.done p {{ margin: 0; }}
.taken-back .title {{ text-decoration: line-through; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ text-align: left; vertical-align: top; padding: .3rem .5rem .3rem 0; border-bottom: 1px solid {EDGE}; }}
th.end, td.end {{ white-space: nowrap; }}
ul.causes {{ list-style: none; padding: 0; }}
ul.causes li {{ display: grid; grid-template-columns: 1.6rem 5.2rem 1fr; gap: .4rem; }}
ul.causes b {{ text-align: center; }}
figure svg {{ display: block; max-width: 100%; height: auto; }}
figure.plot svg {{ width: 34rem; }}
figcaption {{ font-size: .9rem; color: {QUIET}; margin-bottom: .3rem; }}
.wide {{ overflow-x: auto; border: 1px solid {EDGE}; }}
.wide svg {{ max-width: max(100%, 40rem); margin: 0 auto; }}
.box {{ background: {TINT}; border-left: 4px solid {INK}; padding: .5rem .8rem; margin: 0 0 .7rem; }}
.box > :last-child {{ margin-bottom: 0; }}
.proof {{ border-bottom: 1px solid {EDGE}; padding: .3rem 0; }}
.proof p {{ margin: 0; }}
.outcome {{ font-weight: bold; }}
.sign {{ display: grid; grid-template-columns: 1fr; gap: 2.2rem; margin-top: 1.6rem; }}
.sign div {{ border-top: 1px solid {INK}; padding-top: .2rem; font-size: .9rem; display: flex; flex-wrap: wrap;
  justify-content: space-between; gap: .2rem 2rem; }}
footer {{ margin-top: 1.6rem; font-size: .85rem; color: {QUIET}; }}
@media (min-width: 40rem) {{ .sign {{ grid-template-columns: 1fr 1fr; gap: 2.6rem 2rem; }} }}
@media print {{
  html {{ font-size: 10pt; }}
  body {{ padding: 0; max-width: none; }}
  h1, h2, h3, figcaption {{ break-after: avoid; }}
  li, tr, .proof, .box, .alarm, .result, .sign div, figure {{ break-inside: avoid; }}
  p, li {{ orphans: 3; widows: 3; }}
  figure.line {{ display: none; }} /* for narrow screens: on paper the wiring shows the same and more */
  .wide {{ overflow: visible; border: 0; }}
  .wide svg {{ max-width: 100%; }}
  figure svg {{ max-height: 196mm; margin: 0 auto; }}
  figure.plot svg {{ width: 110mm; margin: 0; }}
  .sign {{ grid-template-columns: 1fr 1fr; break-inside: avoid; }}
}}
"""
