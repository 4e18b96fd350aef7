"""The one door from the dashboard to the orchard and its calculations: the names it may use.

Results by as-of date, each computed once, come from `dashboard.source`.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pandas as pd

from dashboard.security import LOG, current_name, require
from harvest import service, service_calendar, service_care, service_climate, service_yields
from harvest.care.bees import BeeWeather
from harvest.care.climate_fit import Days as SeasonDays
from harvest.care.climate_fit import Share as ClimateShare
from harvest.care.texts import SPRAY_CAUTIONS
from harvest.errors import ConflictError, HarvestError, InputError
from harvest.phenology.backtest import Backtest, Case, LeadScores, ReliabilityPoint
from harvest.phenology.result import Basis, EventForecast, EventName, PastForecast, WeekShare
from harvest.phenology.scores import compatible_hits
from harvest.records import Records
from harvest.seasons import day_of_season, is_southern, season_label, season_start
from harvest.service import About, Overview
from harvest.service_calendar import (
    CalendarItem,
    HeatSum,
    Marked,
    OrchardYear,
    WeekTask,
    add_item,
    kinds_at,
    mark_done,
    put_off,
    switch_off,
    switch_on,
)
from harvest.service_care import (
    BloomFrost,
    LastSprayDay,
    Partner,
    Pollination,
    Withholding,
    told_at_once,
)
from harvest.service_climate import (
    ClimateFit,
    GapWeek,
    Place,
    Scenario,
    WinterChill,
    kinds_to_plant,
)
from harvest.service_forms import (
    RecordField,
    entry_lists,
    event_names,
    growth_stages,
    kinds_of_fruit,
    log_columns,
    record_fields,
    spreadsheet_text,
)
from harvest.service_imports import (
    ImportReport,
    Layout,
    TextTable,
    columns_of,
    guess_columns,
    guess_kind,
    import_mapped,
    loose_columns,
    read_upload,
)
from harvest.service_known import Known, known_on
from harvest.service_people import Person, cookie_key, sign_in, sign_out, who_holds
from harvest.service_records import (
    KINDS_IN_WORDS,
    Asked,
    Attachment,
    BatchEntry,
    ChangeEntry,
    Condition,
    Doubt,
    Exported,
    RecordPage,
    Shown,
    Signature,
    Subject,
    Undone,
    attach,
    attachment_bytes,
    attachments,
    backup_orchard,
    browse_records,
    count_kinds,
    dismiss_doubts,
    edit_record,
    export_folder,
    history,
    log_records,
    media_type_of,
    one_record,
    open_doubts_of,
    remove_record,
    tree_history,
    undo_batch,
)
from harvest.service_season import Course, Day, SiteSeason, site_season
from harvest.service_settings import (
    CHOICES,
    KEPT_AS,
    SettingChange,
    Settings,
    change_settings,
    read_settings,
    setting_changes,
)
from harvest.service_weather import weather_status
from harvest.service_yields import (
    GROUPINGS,
    SIGNS,
    CropsAhead,
    YieldPictures,
    group_names,
    log_sign,
    overrule,
)
from harvest.store.latest import LatestTables
from harvest.store.orchard import Orchard
from harvest.units import CM_PER_IN, KG_PER_LB
from harvest.yields.result import (
    Advice,
    Crop,
    CropAdvice,
    CropEstimate,
    CropToCome,
    CumulativePoint,
    ForecastPicked,
    GroupSeason,
    Overrule,
    SeasonReasons,
    SeasonsCompared,
    SeasonYield,
    StripPaid,
    ThinningPlan,
    TrunkPoint,
    WeekCrop,
)

__all__ = [
    "CHOICES", "CM_PER_IN", "GROUPINGS", "KEPT_AS", "KG_PER_LB", "KINDS_IN_WORDS", "SIGNS",
    "SPRAY_CAUTIONS", "About",
    "Advice", "Asked", "Attachment", "Backtest", "Basis", "BatchEntry", "BeeWeather", "BloomFrost",
    "CalendarItem", "Case", "ChangeEntry", "ClimateFit", "ClimateShare", "Condition",
    "ConflictError", "Course", "Crop", "CropAdvice", "CropEstimate", "CropToCome", "CropsAhead",
    "CumulativePoint", "Day", "Doubt", "EventForecast", "EventName", "Exported", "ForecastPicked",
    "GapWeek", "GroupSeason", "HarvestError", "HeatSum", "ImportReport", "InputError", "Known",
    "LastSprayDay", "LatestTables", "Layout", "LeadScores", "Marked", "Orchard", "OrchardYear",
    "Overrule", "Overview", "Partner", "PastForecast", "Person", "Place", "Pollination",
    "RecordField", "RecordPage", "Records", "ReliabilityPoint", "Scenario", "SeasonDays",
    "SeasonReasons", "SeasonYield", "SeasonsCompared", "SettingChange", "Settings", "Shown",
    "Signature", "SiteSeason", "StripPaid", "Subject", "TextTable", "ThinningPlan", "TrunkPoint",
    "Undone", "WeekCrop", "WeekShare", "WeekTask", "WinterChill", "Withholding", "YieldPictures",
    "add_item", "attach", "attachment_bytes", "attachments", "backup_orchard", "block_names",
    "browse_records", "change_settings", "columns_of", "compatible_hits", "cookie_key",
    "count_kinds", "day_of_season", "dismiss_doubts", "edit_record", "entry_lists", "event_names",
    "export_folder", "group_names", "growth_stages", "guess_columns", "guess_kind", "history",
    "import_mapped", "is_southern", "kinds_at", "kinds_of_fruit", "kinds_to_plant", "known_on",
    "log_columns", "log_records", "log_sign", "loose_columns", "mark_done", "media_type_of",
    "one_record", "open_doubts_of", "overrule", "put_off", "read_settings", "read_upload",
    "record_fields", "remove_record", "season_label", "season_start", "service", "service_calendar",
    "service_care", "service_climate", "service_yields", "setting_changes", "sign_in", "sign_out",
    "signed", "site_season", "spreadsheet_text", "switch_off", "switch_on", "told_at_once",
    "tree_history", "undo_batch", "weather_status", "who_holds",
]  # fmt: skip


def signed() -> Signature:
    """Who changes something from a page, and when; refused where they may only look."""
    require(LOG)
    return Signature(current_name(), datetime.now(UTC))


def block_names(trees: pd.DataFrame) -> pd.Series:
    """What each tree's row, or block, is called; None where it has none."""
    return trees["row"].map(lambda row: None if pd.isna(row) else f"{row:g}")
