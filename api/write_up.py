"""The write-up of a case: complaint, cause, correction, readings, parts, minutes, what is proved good."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.cases.looking import Look
from advisor.contract.case_answer import CaseOut, EventOut
from advisor.contract.case_bodies import Closed
from advisor.contract.engine import KnownModel
from api import words
from api.case_fields import STATUSES
from api.case_history import Entry, history
from api.case_page import answers_of, used
from api.case_words import Names, names_of, said
from api.proved import proved_good
from api.ranking import first_of

READ = ("finding", "declined", "repair")


@dataclass(frozen=True)
class WriteUp:
    """What is printed of a case, open or closed; `how` is None while it is open, and `likely` is told then."""

    case: CaseOut
    names: Names
    title: str
    vehicle: tuple[str, ...]
    complaint: str
    readings: tuple[EventOut, ...]
    told: tuple[str, ...]
    how: Closed | None
    status: str
    likely: str
    parts: tuple[tuple[str, str], ...]
    minutes: tuple[tuple[str, str], ...]
    total: str
    proved: tuple[str, ...]
    money: tuple[str, ...]
    entries: tuple[Entry, ...]
    used: str


def write_up(look: Look, model: KnownModel | None) -> WriteUp:
    """Write up a case."""
    case, how = look.case, look.case.closing.how if look.case.closing else None
    names = names_of(model, answers_of(look), case.costs.currency)
    readings = tuple(event for event in case.events if event.kind in READ and not event.retracted)
    return WriteUp(
        case=case,
        names=names,
        title=names.circuit if model else case.circuit,
        vehicle=(*((model.schematic.vehicle_title,) if model else ()), *_vehicle(case)),
        complaint=(how.complaint if how else None)
        or case.words
        or (names.symptom(case.symptom) if case.symptom else ""),
        readings=readings,
        told=tuple(said(event, names) for event in readings),
        how=how,
        status=dict(STATUSES)[how.cause_status] if how else "",
        likely=first_of(look.advised.answer) if look.advised else "",
        parts=_parts(how, case.costs.currency) if how else (),
        minutes=tuple((step.step, words.minutes(step.minutes)) for step in how.minutes) if how else (),
        total=words.minutes(sum(step.minutes for step in how.minutes)) if how and how.minutes else "",
        proved=_proved(look, how, model),
        money=tuple(
            said(e, names) for e in case.events if e.kind in ("authorised", "work-declined") and not e.retracted
        ),
        entries=history(case, names, {}).entries,
        used=used(case.authorised, case.spent, case.costs.currency),
    )


def _proved(look: Look, how: Closed | None, model: KnownModel | None) -> tuple[str, ...]:
    if how:
        return how.proved_good
    return proved_good(look.began, look.advised.answer, model) if look.began and look.advised and model else ()


def _parts(how: Closed, currency: str) -> tuple[tuple[str, str], ...]:
    """Name each part with its count and its exact price, as an invoice does."""
    return tuple(
        (f"{part.count} × {part.part}", "" if part.price is None else f"{part.count * part.price:.2f} {currency}")
        for part in how.parts
    )


def _vehicle(case: CaseOut) -> tuple[str, ...]:
    vehicle = case.vehicle
    told = [case.identity or "", f"{vehicle.years:g} years", f"{vehicle.hours:g} hours in use"]
    told += [f"{vehicle.odometer_km:,.0f} km".replace(",", " ")] if vehicle.odometer_km is not None else []
    return tuple(text for text in told if text)
