"""A product as one picture: its windows against temperature, its pot life against mass.

`product` draws it; `drawing` is the paper, `scales` the axes, `edgepanel` and `masspanel` what stands on them.
"""

from mixclock.words.picture.masspanel import DrawnCup, MassCurve, cups_drawn, mass_curves
from mixclock.words.picture.product import product_picture
