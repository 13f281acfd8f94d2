"""The chart for the wall: how long a pulse may be, against strip thickness or any other field."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from nugget.outcome.record import CAUTIONS
from nugget.plot import style
from nugget.plot.frame import Frame
from nugget.plot.panel import CLOSED, OPEN, SURE, draw_panel
from nugget.plot.trial_marks import UNDERLINE, elsewhere, marker
from nugget.study.charting.duration_chart import Advice, Chart, Panel
from nugget.study.charting.plotted_trials import PlottedTrial
from nugget.study.durations.branches import count_s
from nugget.study.durations.edges import worded
from nugget.study.durations.window import Window
from nugget.study.inputs.variation import Axis, strength_path
from nugget.study.statement.judged_rows import next_step
from nugget.units import article

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH_IN, PANEL_IN, PLOT_IN = 10.0, 5.2, 5.6
"""Width of a chart of one strip, width of a panel where there are more, height of the axes."""
HEAD_IN, LEFT_IN, RIGHT_IN, SIDE_IN = 1.5, 0.95, 0.35, 0.3
AXIS_IN, KEY_IN, KEY_COLUMNS = 0.8, 0.25, 3
"""Height of the names below the axes, of a row of the key, and its columns."""
LINE_IN, CAUTION_IN, LETTERS_PER_IN, BOLD_PER_IN = 0.185, 0.75, 13.5, 10.8
RC: Any = {
    "font.size": 12.0,
    "axes.titlesize": 13.0,
    "axes.labelsize": 13.0,
    "lines.linewidth": 2.6,
    "hatch.linewidth": 0.8,
}


def chart_figure(
    chart: Chart, trials: tuple[PlottedTrial, ...] = (), lobe: bool = False, commands: Sequence[str] = ()
) -> Figure:
    """Return the figure of a chart.

    Parameters
    ----------
    chart : Chart
    trials : tuple of PlottedTrial
        Welds of the user's own, overlaid.
    lobe : bool
        Draw the weldability lobe: the varied field, current or voltage, against weld time.
    commands : sequence of str
        This one and that of a calibration with all options in force, for what to do next.
    """
    import matplotlib

    count = len(chart.panels)
    width = WIDTH_IN if count == 1 else LEFT_IN + PANEL_IN * count
    wide_in = PANEL_IN - 0.6 if count > 1 else width - 0.7
    words = [_words(chart, panel, wide_in, commands) for panel in chart.panels]
    foot_in = LINE_IN * max(len(lines) for lines in words) + CAUTION_IN
    key_in = AXIS_IN + KEY_IN * -(-len(_key(chart, trials)) // KEY_COLUMNS)
    height = HEAD_IN + PLOT_IN + key_in + foot_in
    with style.drawing(width, height) as figure, matplotlib.rc_context(RC):
        figure.set_layout_engine("none")
        edges = {"left": LEFT_IN / width, "right": 1.0 - RIGHT_IN / width}
        edges |= {"top": 1.0 - HEAD_IN / height, "bottom": (foot_in + key_in) / height, "wspace": 0.14}
        all_axes = figure.subplots(1, count, squeeze=False, sharex=True, sharey=True, gridspec_kw=edges)[0]
        _head(figure, chart, lobe)
        place: dict[str, Any] = {"loc": "lower center", "bbox_to_anchor": (0.5, foot_in / height)}
        figure.legend(handles=_key(chart, trials), fontsize=10.0, frameon=False, ncols=KEY_COLUMNS, **place)
        for axes, panel, lines in zip(all_axes, chart.panels, words, strict=True):
            draw_panel(Frame(axes, chart, panel, lobe), trials, first=axes is all_axes[0])
            left = SIDE_IN / width if count == 1 else axes.get_position().x0
            answer: dict[str, Any] = (
                {"fontsize": 14.0, "weight": "bold"} if count == 1 else {"fontsize": 10.5}
            )
            above = 1.0 - (HEAD_IN - (0.24 if count == 1 else 0.1)) / height
            figure.text(left, above, own_answer(chart, panel), va="bottom", **answer)
            figure.text(left, foot_in / height, "\n".join(lines), fontsize=10.0, va="top", linespacing=1.3)
        caution = textwrap.fill(CAUTIONS[0], int((width - 2.0 * SIDE_IN) * BOLD_PER_IN))
        figure.text(SIDE_IN / width, 0.14 / height, caution, fontsize=10.5, weight="bold", va="bottom")
    return figure


def _head(figure: Figure, chart: Chart, lobe: bool) -> None:
    """Title, and what does not vary."""
    setup, tip = chart.setup, chart.setup.electrode
    strength = strength_path(setup)
    source = Axis(setup.fields[strength], (), None).text(setup.get(strength) or 0.0)
    machine = {
        "strip.material": chart.panels[0].strip if len(chart.panels) == 1 else "",
        "strip.thickness": f"{sum(layer.thickness_m for layer in setup.strip) * 1e3:.3g} mm",
        strength: f"{source} {setup.file.source.kind}",
        "electrode.force": f"{setup.force_N:g} N",
        "electrode.face_diameter": f"{tip.face_diameter_m * 1e3:g} mm {tip.tip_shape} tip",
    }
    kept = [text for path, text in machine.items() if text and path != chart.axis.field.path]
    x, inch = SIDE_IN / figure.get_figwidth(), 1.0 / figure.get_figheight()
    title = "Weldability lobe" if lobe else "Allowable pulse duration (process window)"
    figure.text(x, 1.0 - 0.15 * inch, title, fontsize=20.0, weight="bold", va="top")
    lines = f"{setup.title}\n{', '.join(kept)}"
    figure.text(x, 1.0 - 0.56 * inch, lines, fontsize=11.0, va="top", color="#404040")


def own_answer(chart: Chart, panel: Panel) -> str:
    """What the chart says at the user's own value, in words; empty where it has no column there."""
    own = chart.axis.own
    column = next((c for c in panel.columns if own is not None and math.isclose(c.value, own)), None)
    if column is None or own is None:
        return ""
    start = f"At {chart.axis.text(own)}: "
    step_s = count_s(chart.setup)
    nominal = "no window" if not column.window.open else _span(column.window, step_s)
    if column.window.unknown and not column.window.open:
        nominal = "not known"
    if not chart.spread:
        return start + nominal
    known = column.known
    if known is None:
        return f"{start}not known, as set up {nominal}"
    if known.from_s is None or known.until_s is None:
        return f"{start}no duration is in window, as set up {nominal}"
    unit_s, unit = (1e-3, "ms") if step_s is None else (step_s, "half cycles")
    sure = f"{known.from_s / unit_s:.2g} to {known.until_s / unit_s:.2g} {unit}"
    return f"{start}in window {sure}, as set up {nominal}"


def _span(window: Window, step_s: float | None) -> str:
    """From when to when a window is open, in half cycles where pulses are counted in them."""
    assert window.from_s is not None
    unit_s, unit = (1e-3, "ms") if step_s is None else (step_s, "half cycles")
    ends = f"{window.from_s / unit_s:.2g} to {window.until_s / unit_s:.2g} {unit}"
    return ends if window.binding is not None else f"{window.from_s / unit_s:.2g} {unit} and more"


def sure_words(chart: Chart) -> str:
    """How sure a statement has to be for *in window*."""
    asked = chart.setup.file.uncertainty
    return f"joint {asked.joint:.0%}, no damage {asked.damage:.0%}, no harm {asked.harm:.0%}"


def _key(chart: Chart, trials: tuple[PlottedTrial, ...]) -> list[Any]:
    """What the colours mean; the lines carry their names."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    columns = [column for panel in chart.panels for column in panel.columns]
    windows = [column.window for column in columns]
    handles: list[Any] = []
    if any(column.known is not None and column.known.open for column in columns):
        handles.append(Patch(color=SURE, label=f"in window: {sure_words(chart)}"))
    if any(window.open for window in windows):
        how: dict[str, Any] = {"facecolor": "none", "edgecolor": SURE, "linewidth": 2.0}
        handles.append(Patch(**(how if chart.spread else {"color": OPEN}), label="window as set up"))
    if chart.spread:
        handles.append(
            Patch(color=style.BLUE, alpha=0.2, label="minimum diameter reached, in 5 to 95 % of welds")
        )
        handles.append(Patch(color=style.RED, alpha=0.2, label="a limit exceeded, in 5 to 95 % of welds"))
    if any(window.closed for window in windows):
        handles.append(
            Patch(facecolor="white", edgecolor=CLOSED, linewidth=0.0, hatch="///", label="no window")
        )
    if chart.axis.own is not None:
        own: dict[str, Any] = {"marker": "*", "markersize": 15, "color": style.BLACK}
        handles.append(Line2D([], [], linestyle="none", label="your setting", **own))
    for name in dict.fromkeys(trial.result for trial in trials):
        handles.append(Line2D([], [], linestyle="none", label=f"trial: {name}", **marker(name)))
    others = elsewhere(chart, trials)
    if others:
        label = f"underlined: made on {' or '.join(article(one) for one in others)}"
        handles.append(Line2D([], [], linestyle="none", label=label, **UNDERLINE))
    return handles


def _words(chart: Chart, panel: Panel, width_in: float, commands: Sequence[str]) -> list[str]:
    """What stands below a panel: what is said of the own setting, and what would open a window."""
    lines = [f"{line}." for line in said_lines(chart, panel, *commands)]
    advice = panel.advice
    if advice is not None:
        lines += _advice_lines(chart, advice)
    wide = int(width_in * LETTERS_PER_IN)
    return [part for line in lines for part in textwrap.wrap(line, wide, subsequent_indent="   ")]


def said_lines(chart: Chart, panel: Panel, *commands: str) -> list[str]:
    """What is said of the user's own setting, and what would settle it; `commands` are those in force."""
    if panel.said is None:
        return []
    found = [f"Your {worded(chart.setup, chart.own_s)}: {panel.said.verdict}: {panel.said.reason}"]
    if panel.said.verdict == "uncertain":
        found.append(f"What would settle it: {next_step(panel.said, *commands)}")
    return found


def _advice_lines(chart: Chart, advice: Advice) -> list[str]:
    """Why there is no window, and what the changes that were tried do about it."""
    opens = [trial.sentence for trial in advice.trials if trial.window.open]
    shut = [trial.sentence for trial in advice.trials if not trial.window.open]
    lines = [f"No window at {chart.axis.text(advice.value)}: {advice.crossing}."]
    lines.append(
        f"Changes that give a window: {'; '.join(opens)}."
        if opens
        else "None of the changes tried gives a window."
    )
    if shut:
        lines.append(f"Changes that do not: {'; '.join(shut)}.")
    return lines
