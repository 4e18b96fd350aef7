"""How things are shown, under which name changes are kept, and files to take away."""

from __future__ import annotations

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard import paths, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import (
    CHOICES,
    KEPT_AS,
    HarvestError,
    SettingChange,
    Settings,
    change_settings,
    read_settings,
    setting_changes,
    signed,
)
from dashboard.security import ACCOUNTS, CHANGE, NAMELESS, current_name, may, require, role_held
from dashboard.source import Source
from dashboard.taking_out import BACKUP, EXPORT_CSV, EXPORT_XLSX
from dashboard.texts import people as people_texts
from dashboard.texts import settings as own_texts
from dashboard.words import day, shown

FIELD = "setting-"
SAVE, SAID, RELOAD = "settings-save", "settings-said", "settings-reload"
MOST_CHANGES = 12
NAMES = (*CHOICES, KEPT_AS)


def render(source: Source, view: View) -> Component:
    """The page."""
    settings = read_settings(source.orchard)
    return html.Div(
        pieces.page(
            texts.PAGE_TITLES["settings"],
            pieces.answer(*sentences(settings, source)),
            pieces.section(own_texts.TITLE_SHOWN, *_form(settings)),
            pieces.section(own_texts.TITLE_FILES, *_files(view)),
            pieces.section(own_texts.TITLE_PERSON, *_person()),
            pieces.section(own_texts.TITLE_HISTORY, _history(setting_changes(source.orchard))),
        ),
        className="no-date settings",
    )


def sentences(settings: Settings, source: Source) -> tuple[str, str]:
    """What is chosen, in words."""
    return (
        own_texts.ANSWER.format(
            units=own_texts.UNIT_WORDS[settings.units],
            date=day(source.home_date()),
            day=own_texts.CHOICES["week_starts"][settings.week_starts],
        ),
        own_texts.KEPT.format(name=shown(current_name())),
    )


def _form(settings: Settings) -> list[Component]:
    allowed = may(CHANGE)
    selects: list[Component] = [
        dmc.Select(
            id=FIELD + name,
            label=own_texts.LABELS[name],
            data=[
                {"value": value, "label": own_texts.CHOICES[name][value]} for value in CHOICES[name]
            ],
            value=getattr(settings, name),
            allowDeselect=False,
            disabled=not allowed,
            size="md",
        )
        for name in CHOICES
    ]
    name = dmc.TextInput(
        id=FIELD + KEPT_AS,
        label=own_texts.NAME,
        description=own_texts.NAME_TOLD if role_held() is None else own_texts.NAME_SIGNED,
        value=settings.kept_as,
        disabled=not allowed,
        size="md",
    )
    button = html.Button(
        own_texts.SAVE, id=SAVE, type="button", className="main-button", disabled=not allowed
    )
    return [
        html.Div([*selects, name], className="setting-fields"),
        html.P(own_texts.SCOPE, className="quiet"),
        html.Div([button, html.Span(id=SAID, role="status")], className="downloads"),
        html.P(own_texts.MAY_NOT) if not allowed else html.Span(),
        dcc.Store(id=RELOAD),
    ]


def _files(view: View) -> list[Component]:
    links = [
        html.A(own_texts.EXPORT_CSV, href=EXPORT_CSV, download="", className="choice"),
        html.A(own_texts.EXPORT_XLSX, href=EXPORT_XLSX, download="", className="choice"),
    ]
    if may(ACCOUNTS):
        links.append(html.A(own_texts.BACKUP, href=BACKUP, download="", className="choice"))
    bring = dcc.Link(own_texts.IMPORT, href=paths.link(paths.IMPORT, view), className="choice")
    told = own_texts.BACKUP_TOLD if may(ACCOUNTS) else own_texts.BACKUP_NOT
    return [
        html.P(own_texts.FILES),
        html.Div([*links, bring], className="file-links"),
        html.P(told, className="quiet"),
    ]


def _person() -> list[Component]:
    role = role_held()
    if role is None:
        return [html.P(own_texts.NO_ACCOUNTS)]
    words = people_texts.SIGNED_IN_AS.format(name=shown(current_name()), may=people_texts.MAY[role])
    out = html.Button(people_texts.SIGN_OUT, type="submit", className="main-button")
    return [html.P(words), html.Form(out, action="sign-out", method="post")]


def _history(changes: list[SettingChange]) -> Component:
    if not changes:
        return html.P(own_texts.HISTORY_NONE)
    return html.Ul([html.Li(told(change)) for change in changes[:MOST_CHANGES]])


def told(change: SettingChange) -> str:
    """One change in words."""
    names = own_texts.CHOICES.get(change.name, {})
    before, after = (
        names.get(value, shown(value)) if value else own_texts.BLANK
        for value in (change.before, change.after)
    )
    return own_texts.HISTORY.format(
        when=day(change.at.date()) if change.at else "",
        who=shown(change.who or NAMELESS),
        name=own_texts.LABELS[change.name],
        before=before,
        after=after,
    )


def save(source: Source, values: tuple[str | None, ...]) -> str:
    """Choose settings; what is said of it."""
    require(CHANGE)
    chosen = {name: value or "" for name, value in zip(NAMES, values, strict=True)}
    before = read_settings(source.orchard)
    after = change_settings(source.orchard, chosen, signed())
    return own_texts.SAME if after == before else own_texts.SAVED


def connect(app: Dash, source: Source) -> None:
    """Hang saving on the app; a page whose settings changed is loaded anew."""

    @app.callback(
        Output(SAID, "children"),
        Output(RELOAD, "data"),
        Input(SAVE, "n_clicks"),
        *(State(FIELD + name, "value") for name in NAMES),
        prevent_initial_call=True,
    )
    def press(clicks: int | None, *values: str | None) -> tuple[object, object]:
        if not clicks:
            return no_update, no_update
        try:
            said = save(source, values)
        except HarvestError as error:
            return str(error), no_update
        return said, said if said == own_texts.SAVED else no_update

    app.clientside_callback(  # type: ignore[no-untyped-call]
        "function (saved) { if (saved) { setTimeout(() => location.reload(), 600); } return ''; }",
        Output(RELOAD, "modified_timestamp"),
        Input(RELOAD, "data"),
        prevent_initial_call=True,
    )
