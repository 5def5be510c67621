"""When a part was renewed, as people write it, read into spans of time and of distance."""

import re
from dataclasses import dataclass, replace

from wornby.survey.told_spans import Span, read_span

UNKNOWN = (
    r"(i )?(really )?(do not|don't|dont|can't|cant|cannot) (know|remember|recall|say)( when)?"
    r"|not sure( when)?|unsure|unknown|no idea|no record|\?+|-|n/?k|dk|n/?a|forgotten|sometime"
)
BEFORE_BOUGHT = (
    r"(by |with |under )?(the |a )?(previous|prior|former|last|earlier) (owner|keeper)s?"
    r"|before (my|our) (time|ownership|purchase)|before (purchase|buying( it)?)"
    r"|(before|prior to) (i|we) (had|bought|got|owned|purchased)( it| the van| the vehicle| her)?"
    r"|already (done|renewed|replaced) when (i|we) (bought|got) it"
)
ABOUT = (
    r"\b(about|approximately|approx|around|circa|roughly|maybe|probably|perhaps|nearly|almost"
    r"|(i )?think|(i )?guess|say|ca|c)\b\.?|~|\b(or so|ish|or thereabouts)\b|(?<=\d)ish\b|\?"
)
FILLER = (
    r"^(it was |was |last |first |once |when it had |when |in |at |on |during |with |the |done "
    r"|renewed |replaced |changed |fitted )+(?=\S)"
)
OPEN_ENDS = (
    (r"(?:before|by|prior to|until|no later than|pre)[ -](.+)", "low"),
    (r"(?:after|since|from|not before|post)[ -](.+)", "high"),
)
TIME_OF_DAY = (
    r"[ t,]+(at )?\d{1,2}[:.]\d\d([:.]\d\d)?(\.\d+)?( ?[ap]\.?m\.?)?( ?z| ?[+-]\d.*| \w+.*)?$"
)
WEEKDAY = r"\b(mon|tues?|wed(nes)?|thu(rs)?|fri|sat(ur)?|sun)(day)?,? (?=[\da-z])"
BETWEEN_FACTS = r", | at | @ ?| \(|\)| with | / | - "
BETWEEN_RENEWALS = (r" ?; ?| and (?:again )?(?:in )?| & | then | \+ ", r" ?; ?|, | and ")
"""What stands between two renewals; commas only where they part no time from its distance."""
MOST_RENEWALS = 6
PICTURES = r"[\u2600-\u27bf\ufe0f\U0001f000-\U0001faff]"
SHORTEST_MI = 1_000.0
"""A distance below it, asked for by itself, is more likely one in thousands: not guessed."""


@dataclass(frozen=True, slots=True)
class When:
    """One renewal as told: a span of time, one of distance, or both."""

    time: Span | None = None
    distance: Span | None = None


def read_when(text: str, *, order: str, unit: str) -> tuple[When, ...] | None:
    """The renewals that a cell tells of; none where it says it is not known; None: not understood.

    `order` is the layout's of dates, `unit` the distance's where none is written. What holds
    both a time and a distance tells one renewal, what holds two times two renewals.

    >>> about, = read_when("about 2019", order="day first", unit="mi")
    >>> about.time.named, about.time.about
    (2019, True)
    >>> read_when("80-90k", order="day first", unit="mi")[0].distance.high
    90000.0
    >>> len(read_when("2015 and 2021", order="day first", unit="mi"))
    2
    >>> read_when("ask my brother", order="day first", unit="mi") is None
    True
    """
    plain = plain_text(text)
    if re.fullmatch(UNKNOWN, plain):
        return ()
    if whole := _one_renewal(plain, order, unit):
        return (whole,)
    for between in BETWEEN_RENEWALS:
        phrases = [part for part in re.split(between, plain) if part.strip()]
        each = [_one_renewal(part, order, unit) for part in phrases]
        known = tuple(when for when in each if when is not None)
        if 0 < len(known) == len(each) <= MOST_RENEWALS:
            return known
    return None


def read_day(text: str, *, order: str) -> Span | None:
    """A day, month or year; a spreadsheet's count of days too. None where it is no such time."""
    plain = re.sub(TIME_OF_DAY, "", plain_text(text))
    if re.fullmatch(r"\d{5}(\.\d*)?", plain):
        day = float(int(float(plain))) - 25_569
        return Span("day", day, day, "day")
    if re.fullmatch(r"(from )?(brand )?new", plain):
        return Span("age", 0.0, 0.0)
    span = _phrase(plain, order, "mi")
    return span if span is not None and span.kind in ("day", "ago", "age") else None


def phrase_of_distance(text: str, *, unit: str) -> str | None:
    """A cell that is asked for a distance alone, as a phrase that says so; None where it is none.

    >>> phrase_of_distance("43831", unit="mi"), phrase_of_distance("no idea", unit="mi")
    ('43831 mi', '')
    >>> phrase_of_distance("in 2019", unit="mi") is None
    True
    """
    plain = plain_text(text)
    if re.fullmatch(UNKNOWN, plain):
        return ""
    for phrase in (plain, f"{plain} {unit}"):
        span = _phrase(phrase, "year first", unit)
        if span is not None:
            far = max(span.low or 0.0, span.high or 0.0) >= SHORTEST_MI
            return phrase if span.kind == "distance" and far else None
    return None


def is_unknown(text: str) -> bool:
    """Whether a cell only says that its writer does not know."""
    return bool(re.fullmatch(UNKNOWN, plain_text(text)))


def plain_text(text: str) -> str:
    """Small letters, plain quotes and dashes, single spaces; no pictures, no last full stop."""
    text = re.sub(PICTURES, "", text)
    plain = text.lower().translate(str.maketrans("’‘`–—\u00a0", "'''-- "))
    return re.sub(r"\s+", " ", plain).strip(' .!,;:"').rstrip("'")


def _one_renewal(plain: str, order: str, unit: str) -> When | None:
    """One time, one distance, or one of each in the same phrase."""
    if span := _phrase(plain, order, unit):
        return When(distance=span) if span.kind == "distance" else When(time=span)
    parts = [part for part in re.split(BETWEEN_FACTS, plain) if part.strip()]
    spans = [_phrase(part, order, unit) for part in parts]
    if len(spans) != 2 or None in spans:
        return None
    by_kind = {span.kind == "distance": span for span in spans if span is not None}
    return When(by_kind[False], by_kind[True]) if len(by_kind) == 2 else None


def _phrase(plain: str, order: str, unit: str) -> Span | None:
    """One phrase, with "about" and open ends understood."""
    text = re.sub(WEEKDAY, "", plain.strip(" .,;:"))
    if re.fullmatch(BEFORE_BOUGHT, text):
        return Span("before bought")
    bare = re.sub(r"\s+", " ", re.sub(ABOUT, " ", text)).strip(" .,-")
    about = bare != text
    for words in (bare, re.sub(FILLER, "", bare)):
        if span := read_span(words, order=order, unit=unit):
            return replace(span, about=about)
    for pattern, end in OPEN_ENDS:
        if found := re.fullmatch(pattern, bare):
            span = read_span(re.sub(FILLER, "", found[1]), order=order, unit=unit)
            return None if span is None else _opened(span, end, about=about)
    return None


def _opened(span: Span, end: str, *, about: bool) -> Span | None:
    """Before or after what was named: one end open, the other as far as that reaches."""
    if span.kind in ("ago", "before bought"):
        return None
    if end == "low":
        return replace(span, low=None, precision="range", named=None, about=about)
    return replace(span, high=None, precision="range", named=None, about=about)
