"""Causes that lie in a step that came too late or too early."""

from datetime import timedelta

from mixclock.decide.why.causes.cause import DUST, RESIN, SUPPORTS, Cause, Clue, graded
from mixclock.decide.why.observation import ticked
from mixclock.decide.why.quantities.air import COLDEST_SLAB
from mixclock.decide.why.quantities.joints import CUT_IN_USED, WET_EDGE_USED
from mixclock.decide.why.quantities.mix import HOTTEST_BUCKET, STRINGY
from mixclock.decide.why.quantities.steps import (
    BACK_ROLL_USED,
    BROADCAST_USED,
    POUR_OUT_USED,
    RECOAT_CLOSED,
    RECOAT_OPENED,
    STAND,
    TRAFFIC,
)
from mixclock.job.steps import BACK_ROLL, BROADCAST, INDUCTION, POUR_OUT, RECOAT
from mixclock.job.ticks import Tick

ABRADED = Tick(
    "abraded",
    ("yes", "no"),
    "whether the coat below was abraded before this one",
    before=timedelta(days=30),
    about=r"sand(ed|ing)|abrad|screen(ed|ing)|scuff|keyed|ground back",
)

CLOCK_CAUSES = (
    Cause(
        name="old batch",
        mechanism="The mix had aged in the bucket: it no longer wets, flows or forms a whole film.",
        clues=(Clue(POUR_OUT_USED), Clue(HOTTEST_BUCKET, SUPPORTS), Clue(STRINGY, SUPPORTS)),
        symptoms=graded(
            typical="gel lumps, dull, roller marks, squeegee lines",
            possible="spike marks, lap line, bubbles, loose flake",
            unusual="peeling, soft, yellowed, holiday, pinholes",
        ),
        shapes=graded(typical="batch-edge", never="door, shade, cut-in"),
        confirm="Look along the batch edges: the dull part is one batch; the kept cup is hard.",
        tests=("look along the batch edges", "the kept cup"),
        remedy="Abrade to a uniform dull and recoat at the full rate; where it does not bond, remove it.",
        caution=f"{DUST} An aged bucket runs hot: outside and spread thin while it can be held; from smoke stay away.",
        decided_by=POUR_OUT,
        source="JCT CoatingsTech, Feb 2014 (waterborne: film formation worsens unseen); data sheet's pot life",
    ),
    Cause(
        name="late back-roll",
        mechanism="The film had begun to set: it no longer levelled behind roller, squeegee and spikes.",
        clues=(Clue(BACK_ROLL_USED),),
        symptoms=graded(
            typical="roller marks, squeegee lines, spike marks",
            possible="lap line, bubbles, dull",
            unusual="picture framing",
        ),
        shapes=graded(possible="batch-edge", never="door, shade, drips"),
        confirm="Look whether marks run in the last direction of the roller and grow towards the end of the batch.",
        tests=("look along the batch edges", "ask the crew and the owner"),
        remedy="Sand flat and put on another coat.",
        caution=DUST,
        decided_by=BACK_ROLL,
        source="'Tips for Installing Polyaspartic Coatings'; data sheet's working time",
    ),
    Cause(
        name="late broadcast",
        mechanism="The film had skinned: flake lies on it instead of in it.",
        clues=(Clue(BROADCAST_USED),),
        symptoms=graded(typical="loose flake", possible="holiday", unusual="dull"),
        shapes=graded(possible="batch-edge", never="door, shade, drips"),
        confirm="Tape and scrape: flake comes off without resin at its foot.",
        tests=("tape and scrape", "look along the batch edges"),
        remedy="Scrape, sweep and vacuum; thin coat and throw again, or lock it in with a grout coat where it holds.",
        caution=DUST,
        decided_by=BROADCAST,
        source="'Flake Floor Systems Explained' (a tacky base does not anchor)",
    ),
    Cause(
        name="lap joint",
        mechanism="The neighbour's edge had set before the next batch melted in, or field and cut-in did not meet wet.",
        clues=(Clue(WET_EDGE_USED), Clue(CUT_IN_USED)),
        symptoms=graded(typical="lap line, picture framing", possible="roller marks", unusual="dull"),
        shapes=graded(typical="batch-edge, cut-in", never="all-over, shade, drips"),
        confirm="Look whether the line lies on the joint of two batches, or a roller's width from the wall.",
        tests=("look along the batch edges",),
        remedy="Sand the line flat and coat the whole area to a natural stop.",
        caution=DUST,
        decided_by="wet edge",
        source="'Tips for Installing Polyaspartic Coatings' (cutter too far ahead); data sheet's working time",
    ),
    Cause(
        name="no induction",
        mechanism="The two parts had not begun to react: free amine comes to the surface.",
        clues=(Clue(STAND),),
        symptoms=graded(typical="greasy film", possible="dull, tacky, fisheyes", unusual="soft"),
        shapes=graded(typical="batch-edge", never="door, shade, drips"),
        confirm="Wipe and pH; the fault stops at the batch edge.",
        tests=("wipe and pH", "look along the batch edges", "wash a patch"),
        remedy="Wash with warm water and detergent before abrasion; abrade; recoat after the full stand.",
        caution=f"{DUST} {RESIN}",
        decided_by=INDUCTION,
        source="two copies of an 'Amine Blush' note (skipped induction); data sheet's induction",
    ),
    Cause(
        name="early recoat",
        mechanism="The coat below was still soft and full of volatiles when it was shut in.",
        clues=(Clue(RECOAT_OPENED),),
        symptoms=graded(typical="soft, bubbles", possible="tacky, pinholes, dull, peeling", unusual="picture framing"),
        shapes=graded(possible="batch-edge", never="drips, cut-in"),
        confirm="Cut through: is the top hard and the coat below soft?",
        tests=("thumbnail", "chip and film gauge"),
        remedy="Give it warmth and time; if the lower coat stays soft, remove down to sound film.",
        caution=f"{DUST} {RESIN}",
        decided_by=RECOAT,
        source="UFGS 09 97 13 practice (recoat hours by the hottest surface); data sheet's recoat window",
    ),
    Cause(
        name="late recoat",
        mechanism="The coat below was too hard to bond: the next one lies on it.",
        clues=(Clue(RECOAT_CLOSED),),
        symptoms=graded(typical="peeling", possible="fisheyes, hot-tyre pick-up", unusual="holiday"),
        shapes=graded(never="drips, cut-in"),
        planes=graded(typical="between coats", never="at the slab, in the coat, in the concrete"),
        confirm="Pull-off breaks clean between the coats.",
        tests=("tape and scrape", "pull-off"),
        remedy="Remove what lifts, abrade the coat below to a uniform dull, wipe, recoat.",
        caution=DUST,
        decided_by=RECOAT,
        source="'Inter coat delamination'; 'Coating Delamination'; ASTM D7234 for the plane of failure",
        excused_by=(ticked(ABRADED, "yes"),),
    ),
    Cause(
        name="early traffic",
        mechanism="Feet or wheels came before the film was hard enough for them.",
        clues=(Clue(TRAFFIC), Clue(COLDEST_SLAB, 0.15)),
        symptoms=graded(typical="hot-tyre pick-up", possible="dull, peeling", unusual="soft, loose flake"),
        shapes=graded(typical="door", never="cut-in, batch-edge"),
        confirm="Look whether the fault follows tyre tracks or the way that people walk.",
        tests=("ask the crew and the owner", "pull-off"),
        remedy="Cut back to sound film, abrade, rebuild locally; keep wheels off until full cure.",
        caution=DUST,
        decided_by="use of the floor",
        source="Hot-tyre pages (two): tyre 60 to 93 °C on film short of cure; data sheet's traffic times",
    ),
)
