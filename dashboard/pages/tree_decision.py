"""The grower's own decision on a tree's crop, and what they see on it: kept, and undone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, ctx, dcc, html
from dash.development.base_component import Component

from dashboard.address import View
from dashboard.components.pieces import aria
from dashboard.data import SIGNS, CropAdvice, HarvestError, log_sign, overrule, signed, undo_batch
from dashboard.measures import filled, metric_of, plainly, retold
from dashboard.security import LOG, require
from dashboard.source import Source
from dashboard.texts import young as young_texts
from dashboard.words import day, shown

FORM = "decide"
TREE, WHY, SHOOTS, SAID, UNDO, BATCH, ASKED = (
    "decide-tree", "decide-why", "decide-shoots", "decide-said", "decide-undo", "decide-batch",
    "decide-asked",
)  # fmt: skip
SHOOTS_SAVE = "sign-shoots"
MOST_LETTERS = 200
DECIDE, SIGN = "decide-", "sign-"


@dataclass(frozen=True)
class Said:
    """What came of a press of a button, and the change that can be undone."""

    words: str
    batch: int | None = None


def form(advice: Sequence[CropAdvice], view: View) -> Component:
    """The form, for any standing tree; `view` names the date that entries get."""
    trees = [
        {"value": item.tree, "label": f"{shown(item.tree)} {shown(item.cultivar)}"}
        for item in sorted(advice, key=lambda item: (item.leaf, item.tree))
    ]
    return html.Section(
        [
            html.H2(young_texts.FORM_TITLE),
            html.P(young_texts.FORM_NOTE),
            dcc.Store(id=ASKED, data=view.search()),
            dcc.Store(id=BATCH),
            html.Div(
                [
                    dmc.Select(
                        id=TREE, label=young_texts.FORM_TREE, data=trees, searchable=True,
                        placeholder=young_texts.FORM_TREE_PLACEHOLDER, size="md",
                    ),
                    dmc.TextInput(
                        id=WHY, label=young_texts.FORM_WHY, size="md",
                        attributes={"input": {"maxLength": MOST_LETTERS}},
                    ),
                ],
                className="decide-fields",
            ),
            html.H3(young_texts.FORM_DECIDE),
            _buttons(DECIDE, young_texts.DECISIONS),
            html.H3(young_texts.FORM_SEE),
            _buttons(SIGN, young_texts.SIGN_NAMES),
            html.Div(
                [
                    dmc.NumberInput(
                        id=SHOOTS, label=filled(young_texts.FORM_SHOOTS), min=0, max=300, size="md"
                    ),
                    html.Button(
                        young_texts.FORM_SHOOTS_SAVE, id=SHOOTS_SAVE, n_clicks=0, className="choice"
                    ),
                ],
                className="decide-fields shoots",
            ),
            _result(),
        ],
        id=FORM,
        className="decide",
    )  # fmt: skip


def _result() -> Component:
    """What came of the last press, and the button that takes it back."""
    return html.Div(
        [
            html.P(id=SAID, role="status", className="decide-said"),
            html.Button(young_texts.FORM_UNDO, id=UNDO, n_clicks=0, className="choice away"),
        ],
        className="decide-result",
    )


def _buttons(prefix: str, names: dict[str, str]) -> Component:
    return html.Div(
        [
            html.Button(words, id=button_id(prefix, name), n_clicks=0, className="choice")
            for name, words in names.items()
        ],
        className="decide-buttons",
        **aria(label=young_texts.FORM_DECIDE if prefix == DECIDE else young_texts.FORM_SEE),
        role="group",
    )


def button_id(prefix: str, name: str) -> str:
    """Id of a button; ids hold no blanks."""
    return prefix + name.replace(" ", "-")


def connect(app: Dash, source: Source) -> None:
    """Hang the buttons on the app."""
    buttons = [button_id(DECIDE, name) for name in young_texts.DECISIONS]
    buttons += [button_id(SIGN, name) for name in SIGNS] + [SHOOTS_SAVE, UNDO]

    @app.callback(
        Output(SAID, "children"),
        Output(BATCH, "data"),
        Output(UNDO, "className"),
        *[Input(button, "n_clicks") for button in buttons],
        State(TREE, "value"),
        State(WHY, "value"),
        State(SHOOTS, "value"),
        State(BATCH, "data"),
        State(ASKED, "data"),
        prevent_initial_call=True,
    )
    def press(*given: object) -> tuple[list[Component | str], int | None, str]:
        require(LOG)
        tree, why, shoots, batch, search = given[-5:]
        view = source.view(str(search or ""))
        as_of = view.as_of or source.home_date()
        if ctx.triggered_id == UNDO:
            said = undone(source, batch if isinstance(batch, int) else None)
        else:
            said = pressed(
                source, str(ctx.triggered_id), _text(tree), _text(why), _shoots(shoots), as_of
            )
        anew: list[Component | str] = [said.words, " "]
        anew.append(html.A(young_texts.FORM_ANEW, href=""))
        return anew, said.batch, "choice" if said.batch is not None else "choice away"


def pressed(
    source: Source,
    button: str,
    tree: str | None,
    why: str | None,
    shoot_cm: float | None,
    as_of: date,
) -> Said:
    """Keep what a button stands for; what is missing, or refused, is said."""
    if tree is None:
        return Said(young_texts.FORM_NEEDS_TREE)
    if button == SHOOTS_SAVE and shoot_cm is None:
        return Said(filled(young_texts.FORM_NEEDS_SHOOTS))
    decisions = {button_id(DECIDE, name): name for name in young_texts.DECISIONS}
    signs = {button_id(SIGN, name): name for name in SIGNS} | {SHOOTS_SAVE: "shoots"}
    try:
        if button in decisions:
            what = young_texts.DECISIONS[decisions[button]].lower()
            batch = overrule(
                source.orchard, tree, decisions[button], why=why, today=as_of, signed=signed()
            ).batch
        else:
            sign = signs[button]
            what = young_texts.SIGN_NAMES.get(
                sign, young_texts.FORM_SHOOTS_KEPT.format(length=_length(shoot_cm))
            ).lower()
            batch = log_sign(
                source.orchard, tree, sign, shoot_cm, today=as_of, signed=signed()
            ).batch
    except HarvestError as error:
        return Said(retold(str(error)))
    template = young_texts.FORM_SAME if batch is None else young_texts.FORM_KEPT
    return Said(template.format(tree=shown(tree), what=what, date=day(as_of)), batch)


def undone(source: Source, batch: int | None) -> Said:
    """Take the last entry back."""
    if batch is None:
        return Said("")
    try:
        back = undo_batch(source.orchard, batch, signed())
    except HarvestError as error:
        return Said(retold(str(error)))
    return Said(young_texts.FORM_UNDONE.format(what=shown(back.batch.note, 120)))


def _text(given: object) -> str | None:
    return given if isinstance(given, str) and given.strip() else None


def _shoots(given: object) -> float | None:
    """Length as typed in the unit shown, in cm as it is kept [cm]."""
    if not isinstance(given, int | float):
        return None
    return round(metric_of(float(given), "cm"), 2)


def _length(shoot_cm: float | None) -> str:
    return "" if shoot_cm is None else plainly(shoot_cm, "cm")
