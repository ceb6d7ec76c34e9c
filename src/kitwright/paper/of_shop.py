"""What the shop keeps, as the sheets that are printed of it."""

from __future__ import annotations

from kitwright.errors import MissingError, MoveError
from kitwright.paper.certificate import Bore, Certificate, Measured, ShellCertificate
from kitwright.paper.fit_up_sheet import FitUpSheet
from kitwright.shop.bells import BellView
from kitwright.shop.fitups import FitUpView
from kitwright.shop.judging import limits_in_words, rule_in_words
from kitwright.units import Lead
from kitwright.worksheets.declaration import Caution

SHELL_CAUTION = Caution(
    "WARNING",
    "This sheet certifies measurements. It does not say that the bell will hold the fragments of a "
    "clutch or flywheel. Where a rule asks for a certified shell, the current rule book decides.",
)


def certificate_of(bell: BellView) -> Certificate:
    """The certificate of a bell that may be sold.

    Raises
    ------
    MoveError
        It is not released, or its release was undone since.
    MissingError
        It was released without having been measured.
    """
    release = bell.release
    if release is None:
        raise MoveError(
            bell.standing.named, f"it is {bell.standing.state}", "only a released bell is certified"
        )
    if bell.inspection is None:
        raise MissingError(bell.standing.named, "it has no inspection", "import one first")
    lead: Lead = "in" if bell.shop.lead == "in" else "mm"
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
        inspected_on=bell.inspection.happened.date(),
        inspected_by=bell.inspection.who,
        instrument=bell.inspection.instrument,
        rows=_rows(bell, lead),
        decision="conceded" if release.kind == "concede" else "released",
        decision_rule=rule_in_words(bell.shop),
        decided_by=release.who,
        decided_on=release.happened.date(),
        reason=release.reason or "",
        bore=_bore(bell),
        shell=None
        if steel is None
        else ShellCertificate(number=steel, expires=bell.design.certificate_expires),
        cautions=(SHELL_CAUTION,),
        lead=lead,
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
