"""A rack drawn from its real levels and positions, the batches' bars standing on its boards."""

from collections.abc import Iterator

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from curehouse.web.drawing.bar_shape import draw_bars, draw_free, fit_row, sample_places
from curehouse.web.drawing.palette import INK, MUTED, SANS, STATE_INK, WOOD
from curehouse.web.drawing.racks_layout import (
    BAR_HEIGHT,
    BOARD,
    CAPTION_FONT,
    LINE,
    NAME_FONT,
    POST,
    STATE_FONT,
    WIDTH,
    Board,
    Bracket,
    Free,
    Stand,
    Stretch,
    boards_of,
    brackets_of,
)
from curehouse.web.drawing.racks_model import (
    RackDrawing,
    RackLevel,
    RackPosition,
    StandingBatch,
    batch_sentence,
    place_name,
    position_sentence,
)
from curehouse.web.drawing.svg import element, join, num, shorten

__all__ = [
    "RackDrawing",
    "RackLevel",
    "RackPosition",
    "StandingBatch",
    "draw_rack",
    "rack_figure",
    "rack_list",
]

_FEET = 22.0  # the posts run on below the lowest board
_BAR_GAP = 10.0  # between the bars of neighbours
_BRACKET = 5.0
_CAPTION_REACH = 26.0  # 24 px and more where a phone draws the rack smaller


def draw_rack(rack: RackDrawing) -> SafeString:
    """Return *rack* as one <svg> whose batches and positions are links."""
    boards = boards_of(rack)
    height = (boards[-1].bottom if boards else 0.0) + _FEET
    return element(
        "svg",
        element("title", rack.name, id=f"{rack.key}-title"),
        *(_board(board) for board in boards),
        *(_bracket(bracket) for bracket in brackets_of(boards)),
        *_posts(height),
        xmlns="http://www.w3.org/2000/svg",
        class_="rack-drawing",
        view_box=f"0 0 {num(WIDTH)} {num(height)}",
        width="100%",
        role="group",
        aria_labelledby=f"{rack.key}-title",
        font_family=SANS,
    )


def rack_figure(rack: RackDrawing) -> SafeString:
    """Return *rack* for a page: its name as a heading, the drawing, and the same as a list."""
    name = format_html('<a href="{}">{}</a>', rack.href, rack.name) if rack.href else rack.name
    return format_html(
        '<section class="rack" aria-labelledby="{key}-name"><h2 id="{key}-name">{name}</h2>'
        '{drawing}<details class="rack-words"><summary>As a list</summary>{words}</details>'
        "</section>",
        key=rack.key,
        name=name,
        drawing=draw_rack(rack),
        words=rack_list(rack),
    )


def rack_list(rack: RackDrawing) -> SafeString:
    """Return what stands on *rack* as a list of places, each with its batches."""
    return format_html(
        '<ul class="rack-list">{}</ul>',
        format_html_join(
            "",
            "<li>{} · {}{}</li>",
            (
                (
                    _linked(position.href, place_name(level, position)),
                    position_sentence(position),
                    _batch_list(position),
                )
                for level in rack.levels
                for position in level.positions
            ),
        ),
    )


def _batch_list(position: RackPosition) -> SafeString:
    if not position.batches:
        return join(())
    items = ((_linked(batch.href, batch_sentence(batch)),) for batch in position.batches)
    return format_html("<ul>{}</ul>", format_html_join("", "<li>{}</li>", items))


def _linked(href: str, text: str) -> str:
    return format_html('<a href="{}">{}</a>', href, text) if href else text


def _posts(height: float) -> Iterator[SafeString]:
    for left in (0.0, WIDTH - POST):
        yield element("rect", x=left, y=0, width=POST, height=height, class_="rack-wood", fill=WOOD)


def _bracket(bracket: Bracket) -> SafeString:
    """Join the boards of a level at the post: they are one level, however many boards it is drawn as."""
    tall = bracket.bottom - bracket.top
    return element("rect", x=POST, y=bracket.top, width=_BRACKET, height=tall, class_="rack-wood rack-bracket", fill=WOOD)


def _board(board: Board) -> SafeString:
    return element(
        "g",
        element(
            "rect",
            x=POST,
            y=board.foot,
            width=WIDTH - 2 * POST,
            height=BOARD,
            class_="rack-wood",
            fill=WOOD,
        ),
        *(_stretch(stretch, board.foot) for stretch in board.stretches),
    )


def _stretch(stretch: Stretch, foot: float) -> SafeString:
    position = stretch.position
    caption = element(
        "text",
        stretch.caption,
        x=stretch.left,
        y=foot + BOARD + CAPTION_FONT + 2,
        font_size=CAPTION_FONT,
        class_="rack-caption",
        fill=MUTED,
    )
    place = join((_free(stretch.free, foot), caption) if stretch.free else (caption,))
    if position.href:
        said = f"{place_name(stretch.level, position)}: {position_sentence(position)}"
        place = element(
            "a",
            element("title", said),
            *_reaches(stretch, foot),
            place,
            href=position.href,
            class_="rack-place",
            aria_label=said,
        )
    return element("g", *(_stand(stand, foot) for stand in stretch.stands), place)


def _reaches(stretch: Stretch, foot: float) -> Iterator[SafeString]:
    """Yield the areas of a position that a thumb may hit: its caption and its free places."""
    yield _reach(stretch.left - 3, foot + BOARD, stretch.width + 6, _CAPTION_REACH)
    if stretch.free:
        tall = BAR_HEIGHT + LINE
        yield _reach(stretch.free.left - 3, foot - tall, stretch.free.width, tall)


def _reach(left: float, top: float, width: float, height: float) -> SafeString:
    return element(
        "rect", x=left, y=top, width=width, height=height, rx=3, fill="none", pointer_events="all", class_="rack-reach"
    )


def _free(free: Free, foot: float) -> SafeString:
    width = free.width - _BAR_GAP
    row = fit_row(free.places, left=free.left, foot=foot, width=width, height=BAR_HEIGHT)
    return join(
        (
            draw_free(row, 0),
            element(
                "text",
                shorten(free.note, free.width, CAPTION_FONT),
                x=free.left,
                y=foot - BAR_HEIGHT - 12,
                font_size=CAPTION_FONT,
                class_="rack-caption",
                fill=MUTED,
            ),
        )
    )


def _stand(stand: Stand, foot: float) -> SafeString:
    batch = stand.batch
    row = fit_row(batch.bars, left=stand.left, foot=foot, width=stand.width - _BAR_GAP, height=BAR_HEIGHT)
    state_y = foot - BAR_HEIGHT - 12 - LINE * (len(batch.state_lines) - 1)
    first_y = state_y - LINE * len(stand.name_lines)
    names = [
        element(
            "text",
            text,
            x=stand.left,
            y=first_y + LINE * number,
            font_size=NAME_FONT,
            class_="rack-name",
            fill=INK,
        )
        for number, text in enumerate(stand.name_lines)
    ]
    states = [
        element(
            "text",
            shorten(text, stand.width - 2, STATE_FONT),
            x=stand.left,
            y=state_y + LINE * number,
            font_size=STATE_FONT,
            class_=f"rack-state {css}",
            fill=STATE_INK[css],
        )
        for number, (text, css) in enumerate(batch.state_lines)
    ]
    top = first_y - LINE
    samples = sample_places(batch.bars, batch.sample_bars) if batch.sample_bars else ()
    return element(
        "a",
        element("title", batch_sentence(batch)),
        _reach(stand.left - 3, top, stand.width - 4, foot - top),
        *names,
        *states,
        draw_bars(row, water_left=batch.water_left, samples=samples),
        href=batch.href,
        class_="rack-batch",
        aria_label=batch_sentence(batch),
    )
