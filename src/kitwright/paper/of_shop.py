"""What the shop keeps, as the sheets that are printed of it."""

from __future__ import annotations

from kitwright.errors import MissingError, MoveError
from kitwright.paper.certificate import Bore, Certificate, Measured, ShellCertificate
from kitwright.paper.fit_up_sheet import FitUpSheet
from kitwright.paper.labels import bell_address
from kitwright.shop.bells import BellView
from kitwright.shop.fitups import FitUpView
from kitwright.shop.judging import limits_in_words, rule_in_words
from kitwright.shop.samples import SampleView, caution
from kitwright.units import Lead
from kitwright.worksheets.declaration import Caution

SHELL_CAUTION = Caution(
    "WARNING",
    "This sheet certifies measurements. It does not say that the bell will hold the fragments of a "
    "clutch or flywheel. Where a rule asks for a certified shell, the current rule book decides.",
)


def certificate_of(bell: BellView, *, address: str | None = None) -> Certificate:
    """The certificate of a bell that may be sold; `address` is that of the shop's links.

    Raises
    ------
    MoveError
        It is not released, or its release was undone since.
    MissingError
        It was conceded without having been measured.
    """
    release = bell.release
    if release is None:
        raise MoveError(
            bell.standing.named, f"it is {bell.standing.state}", "only a released bell is certified"
        )
    sampled = bell.sample
    if bell.inspection is None and sampled is None:
        raise MissingError(bell.standing.named, "it has no inspection", "import one first")
    lead: Lead = "in" if bell.shop.lead == "in" else "mm"
    inspection = None if sampled is not None else bell.inspection
    steel = bell.design.certificate
    return Certificate(
        shop_name=bell.shop.name,
        serial=bell.standing.serial,
        design=bell.design.name,
        conversion=bell.conversion.name,
        material=bell.design.material,
        revision=bell.revision.label,
        batch=bell.batch.label,
        machinist=bell.machinist.name,
        inspected_on=None if inspection is None else inspection.happened.date(),
        inspected_by="" if inspection is None else inspection.who,
        instrument="" if inspection is None else inspection.instrument,
        rows=_rows(bell, lead),
        decision="conceded" if release.kind == "concede" else "released",
        decision_rule=rule_in_words(bell.shop) if sampled is None else sample_rule(sampled, bell),
        decided_by=release.who,
        decided_on=release.happened.date(),
        reason=release.reason or "",
        bore=_bore(bell),
        shell=None
        if steel is None
        else ShellCertificate(number=steel, expires=bell.design.certificate_expires),
        cautions=(SHELL_CAUTION,) if sampled is None else (SHELL_CAUTION, caution()),
        lead=lead,
        code=bell_address(bell.standing.serial, address),
        sample="" if sampled is None else sample_in_words(sampled),
    )


def sample_in_words(seen: SampleView) -> str:
    """The sample that stands for a bell, as its certificate names it."""
    one = seen.sample
    drawn = f"{one.n} of {len(seen.lot)} bells, drawn at random with the seed {one.seed}"
    return f"{one.named}: {drawn}; {one.found} bad, {one.c} allowed; {one.plan}"


def sample_rule(seen: SampleView, bell: BellView) -> str:
    """How a bell that was not measured came to be released."""
    return (
        f"{seen.sample.named.capitalize()} of batch {bell.batch.label} was accepted, and the bells "
        "that it left out were released on its evidence. Each bell of the sample was judged by "
        f"this rule: {rule_in_words(bell.shop)} One that was not released counted as bad."
    )


def _rows(bell: BellView, lead: Lead) -> tuple[Measured, ...]:
    """A row for each characteristic of the drawing, measured or not."""
    measured = {one.about.id: one for one in bell.measured}
    rows = []
    for about in bell.drawn:
        one = measured.get(about.id)
        rows.append(
            Measured(
                name=about.name,
                kind=about.kind,
                limits=limits_in_words(about, lead=lead),
                value_mm=None if one is None else one.value_mm,
                u95_mm=None if one is None else one.u95_mm,
                verdict=None if one is None else one.verdict,
            )
        )
    return tuple(rows)


def _bore(bell: BellView) -> Bore | None:
    found = bell.bore
    if found is None or found.x_mm is None or found.y_mm is None:
        return None
    return Bore(
        x_mm=found.x_mm - (found.about.x_mm or 0.0),
        y_mm=found.y_mm - (found.about.y_mm or 0.0),
        u95_mm=found.u95_mm,
        limit_tir_mm=found.about.zone_mm or bell.conversion.tir_mm,
    )


def fit_up_sheet_of(fit_up: FitUpView) -> FitUpSheet:
    """The fitter's sheet of a fit-up that has been swept.

    Raises
    ------
    MissingError
        No sweep has come in yet.
    """
    advice = fit_up.advice
    if advice is None:
        raise MissingError(
            f"fit-up {fit_up.fit_up.id}", "has no sweep yet", "enter the fitter's readings first"
        )
    return FitUpSheet(
        shop_name=fit_up.shop.name,
        name=str(fit_up.fit_up.id),
        serial=fit_up.fit_up.serial,
        car=fit_up.car,
        engine=fit_up.engine,
        gearbox=fit_up.gearbox,
        date=fit_up.steps[-1].happened.date(),
        sweep_case=advice.sweep_case,
        sweep_answer=advice.sweep_answer,
        dowels_case=advice.dowels_case,
        dowels_answer=advice.dowels_answer,
        lead="in" if fit_up.shop.lead == "in" else "mm",
        call=fit_up.shop.name,
        code=fit_up.fit_up.serial,
        dowel_mm=fit_up.dowel_mm,
    )
