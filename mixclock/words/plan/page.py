"""A plan as one page that prints: the answer, purchases, pictures, a list for each person, mix sheets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from itertools import groupby

from mixclock.words.cautions import DEFERS
from mixclock.words.plan.compared import compared_rows
from mixclock.words.plan.daylist import person_rows
from mixclock.words.plan.floorshapes import STYLES as SHAPES
from mixclock.words.plan.floorshapes import measured_areas, shape_svgs
from mixclock.words.plan.mixsheet import MixSheet, every_buckets_cautions, mix_sheet, own_cautions, working_cautions
from mixclock.words.plan.picture import STYLES as PICTURE
from mixclock.words.plan.picture import legend_svg, panel_figures
from mixclock.words.plan.purchases import area_line, coat_lines, tool_lines, total_lines
from mixclock.words.plan.sheet import PlanSheet
from mixclock.words.plan.tallpicture import tall_figures
from mixclock.words.plan.text import answer_lines, assumed, not_to_work_by
from mixclock.words.record.html import bullets, figure, page, paragraph, section

NOT_MEASURED = "A plan, not a measurement: on the day go by what the bucket and the slab say."

STYLES = """
.answer{border-left:6px solid var(--ink);padding:.2rem .9rem;margin:.8rem 0}
.answer p:first-child{font-size:1.15rem;font-weight:600}
.lists table{max-width:60rem}
.lists td:first-child{white-space:nowrap;font-variant-numeric:tabular-nums}
.sheets{display:grid;grid-template-columns:repeat(auto-fill,minmax(21rem,1fr));gap:.8rem}
.sheet{border:2px solid var(--ink);padding:.5rem .8rem .6rem;break-inside:avoid}
.sheet h3{margin:0 0 .2rem;font-size:1.15rem}
.sheet h3 span{float:right;font-weight:400}
.sheet td{font-size:1rem;padding:.15rem .4rem .15rem 0}
.sheet td.amount{white-space:nowrap;font-weight:600;font-size:1.1rem}
.sheet ol{margin:.3rem 0;padding-left:1.2rem}
ul.mind{margin:.2rem 0 .6rem;padding-left:1.1rem;font-size:.9rem}
@media print{#people{break-before:page}.person+.person{break-before:page}#buy{break-before:page}}
.unfit{border:2px solid var(--ink);padding:.3rem .6rem;font-weight:600}
.paper{display:none}
@media print{.paper{display:table-row}.person caption{display:none}}
.tall{display:none}
@media screen and (max-width:40rem){.wide{display:none}.tall{display:block}figure:has(svg.plan){margin-inline:0}}
@media (max-width:30rem){.lists td{font-size:1.05rem;padding:.45rem .3rem}}
@media print{.lists .person table{font-size:10px;max-width:none;width:100%;margin:.1rem 0}
.lists .person :is(th,td){padding:.1rem .3rem;line-height:1.2;font-size:10px}
.lists .person :is(th,td):first-child{width:6.5rem}}
@media print{.sheet td{font-size:11px}.sheet td.amount{font-size:12.5px}.sheets{grid-template-columns:1fr 1fr}}
"""


def plan_page(sheet: PlanSheet) -> str:
    """The page as a text; it needs nothing from anywhere."""
    return page(f"{sheet.site.name}: the plan", _body(sheet))


def _body(sheet: PlanSheet) -> Iterator[str]:
    yield f"<style>{PICTURE}{SHAPES}{STYLES}</style>"
    yield _header(sheet)
    yield f'<div class="answer">{"".join(paragraph(line) for line in answer_lines(sheet))}</div>'
    if sheet.plan.steps:
        yield _pictures(sheet)
        yield section("people", "Who does what, when", *_people(sheet), kind="lists")
    yield section("buy", "To buy", *_buying(sheet))
    if sheet.plan.batches:
        yield section("mix", "Mix sheets", *_mix(sheet))
    drawn = measured_areas(sheet.site.areas)
    if drawn:
        yield section("floor", "The floor as it was measured", _floors(shape_svgs(drawn, sheet.units)))
    if sheet.compared is not None:
        yield section("instead", "One product for another", *_compared(sheet))
    minded = working_cautions(sheet)
    if minded:
        yield section("cautions", "Mind while you work", bullets(minded), kind="cautions")
    yield section("assumed", "Assumed", bullets(assumed(sheet)))
    yield f"<footer>{paragraph(DEFERS)}{paragraph(NOT_MEASURED)}</footer>"


def _header(sheet: PlanSheet) -> str:
    size = sheet.units.write_area(sum(area.size_m2 for area in sheet.site.areas))
    count = len(sheet.site.areas)
    crew = " and ".join(sheet.people()) or "nobody"
    return (
        f"<header>\n<h1>{escape(sheet.site.name)}</h1>\n"
        f'<p class="soft">The plan: {count} area{"s" if count != 1 else ""}, {escape(size)}, {escape(crew)}. '
        f"Times in {escape(sheet.site.zone)}.</p>\n</header>"
    )


def _pictures(sheet: PlanSheet) -> str:
    """The days across a sheet of paper, and down a phone."""
    wide = "".join(figure(svg, "") for _, svg in panel_figures(sheet))
    tall = "".join(figure(svg, "") for svg in tall_figures(sheet))
    key = paragraph("Dark: must end by an edge. White: no edge to keep. The diamond: the tightest step.", "soft")
    return section(
        "picture",
        "The days",
        f'<div class="wide">{figure(legend_svg(), "")}{wide}</div>',
        f'<div class="tall">{key}{tall}</div>',
    )


def _floors(pictures: Sequence[str]) -> str:
    return f'<figure class="chart floors">{"".join(pictures)}</figure>'


def _people(sheet: PlanSheet) -> Iterator[str]:
    for who in sheet.people():
        yield f'<div class="person"><h3>{escape(who)}</h3>{_warned(sheet)}'
        for day, rows in groupby(person_rows(sheet, who), key=lambda row: row[0]):
            cells = "".join(
                f"<tr><td>{escape(begins)} to {escape(ends)}</td><td>{escape(told)}</td></tr>"
                for _, begins, ends, told in rows
            )
            yield (
                f'<table><caption>{escape(day)}</caption><thead><tr class="paper"><th colspan="2">'
                f'{escape(who)}, {escape(day)}</th></tr><tr><th scope="col">when</th>'
                f'<th scope="col">what</th></tr></thead><tbody>{cells}</tbody></table>'
            )
        yield "</div>"


def _buying(sheet: PlanSheet) -> Iterator[str]:
    for coat in sheet.take.coats:
        yield f"<h3>{escape(coat.coat)}: {escape(coat.product)}</h3>"
        yield bullets(coat_lines(sheet, coat))
        rows = "".join(
            f"<tr><td>{escape(area.area)}</td><td>{escape(sheet.units.write_area(area.size_m2))}</td>"
            f"<td>{escape(area_line(sheet, area))}</td></tr>"
            for area in coat.areas
        )
        yield (
            '<table><thead><tr><th scope="col">area</th><th scope="col">size</th><th scope="col">takes</th></tr>'
            f"</thead><tbody>{rows}</tbody></table>"
        )
    yield bullets((*tool_lines(sheet), *total_lines(sheet)))


def _mix(sheet: PlanSheet) -> Iterator[str]:
    yield _warned(sheet) or paragraph("One for each bucket: cut them out and tape them to the pails.", "soft")
    yield _minded(every_buckets_cautions(sheet))
    for coat, group in groupby(sheet.plan.batches, key=lambda batch: batch.coat):
        batches = list(group)
        profile = sheet.profile(batches[0].product)
        yield f"<h3>{escape(coat)}: {escape(profile.name)}</h3>{_minded(own_cautions(sheet, profile))}"
        yield '<div class="sheets">'
        for batch in batches:
            yield _card(mix_sheet(sheet, batch))
        yield "</div>"


def _warned(sheet: PlanSheet) -> str:
    """Said on every sheet of paper that may be handed on by itself."""
    said = not_to_work_by(sheet)
    return paragraph(said, "unfit") if said else ""


def _minded(lines: Sequence[str]) -> str:
    told = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f'<ul class="mind">{told}</ul>' if told else ""


def _card(found: MixSheet) -> str:
    rows = "".join(
        f'<tr><td class="amount">{escape(name)}</td><td class="amount">{escape(volume)}</td>'
        f'<td class="amount">{escape(mass)}</td><td>{escape(do)}</td></tr>'
        for name, volume, mass, do in found.parts
    )
    begun, *rest = found.steps
    steps = "".join(f"<li>{escape(step)}</li>" for step in (begun, *found.how, *rest))
    return (
        f'<article class="sheet"><h3>Batch {found.number} <span>{escape(found.when)}</span></h3>'
        f"<p>{escape(found.head)}</p><table><tbody>{rows}</tbody></table><ol>{steps}</ol>"
        f'<p class="soft">{escape(found.size)}</p></article>'
    )


def _compared(sheet: PlanSheet) -> Iterator[str]:
    compared = sheet.compared
    if compared is None:
        return
    yield bullets(compared.said)
    head, *rows = compared_rows(sheet)
    heads = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in head)
    cells = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    yield f"<table><thead><tr>{heads}</tr></thead><tbody>{cells}</tbody></table>"
    for system in (compared.as_planned, compared.instead):
        yield f"<h3>{escape(system.product)} would leave out</h3>"
        yield bullets(system.leaves_out or ("nothing",))
