"""Scraps found on tables of every kind, on seeds that were not used to tune anything."""

from functools import cache

import numpy as np
import pytest

from sequencer.errors import PhotoError, UsageError
from sequencer.photo.files.load import Photo
from sequencer.photo.finds import touching
from sequencer.photo.finds.cloth import find_cloth, in_reading_order
from sequencer.photo.finds.scraps import _off_table, as_scrap
from sequencer.photo.finds.touching import rectangularity
from sequencer.photo.scale.no_scrap import bank_cards
from sequencer.photo.scale.scale import check_scale, find_scale
from sequencer.photo.shapes.shape import inside, rectangle_like
from tests.made.scenes import Scene, make_scene, single_print

HELD_BACK = 4100
SIZE = (1600, 1200)


def photo_of(picture: np.ndarray) -> Photo:
    height, width = picture.shape[:2]
    small = picture[: height // 2 * 2, : width // 2 * 2].reshape(height // 2, 2, width // 2, 2, 3)
    pixels = np.rint(small.mean(axis=(1, 3))).astype(np.uint8)
    return Photo("table.jpg", "table", pixels, (width, height), 2.0, detail=picture)


@cache
def scene(table: str, seed: int = 0, **how: object) -> Scene:
    return make_scene(HELD_BACK + seed, table, scraps=9, size=SIZE, **how)


@cache
def found(table: str, seed: int = 0):
    photo = photo_of(scene(table, seed).picture)
    return photo, find_cloth(photo, "auto")


def overlap(scrap, truth: np.ndarray) -> float:
    mask = scrap.full_mask(truth.shape)
    return float((mask & truth).sum() / (mask | truth).sum())


def matched(table: str, seed: int):
    """(truth index, scrap, IoU) for each scrap that is mostly none of the sheet and the card."""
    made, (_, cloth) = scene(table, seed), found(table, seed)
    labels = made.labels[::2, ::2]
    pairs = []
    for one in cloth.scraps:
        counts = np.bincount(labels[one.full_mask(labels.shape)], minlength=len(made.pieces) + 1)
        k = int(np.argmax(counts[1:])) + 1
        if made.pieces[k - 1].kind == "scrap" or counts[0] > counts[k]:
            pairs.append((k, one, overlap(one, labels == k)))
    return pairs


@pytest.mark.parametrize("table", ["light", "grey", "dark", "wood"])
def test_tables(table: str):
    made, (_, cloth) = scene(table), found(table)
    pairs = matched(table, 0)
    hits = {k for k, _, iou in pairs if iou >= 0.7}
    assert cloth.shows == "many"
    assert len(hits) >= 0.89 * len(made.scraps)
    assert len(hits) >= 0.89 * len(pairs)
    assert np.median([iou for _, _, iou in pairs if iou >= 0.7]) > 0.96


def test_a_strip_cut_by_the_edge_is_found_and_marked():
    made = scene("grey")
    cut = [k for k in made.scraps if made.pieces[k - 1].cut_off]
    for k, one, iou in matched("grey", 0):
        if iou > 0.7:
            assert one.cut_off == (k in cut)
    assert {k for k, _, iou in matched("grey", 0) if iou > 0.7} >= set(cut)


@pytest.mark.parametrize("table", ["light", "grey", "dark", "wood"])
def test_the_card_is_told_from_the_sheet_and_gives_sizes(table: str):
    made, (photo, cloth) = scene(table), found(table)
    sheet = next(p for p in made.pieces if p.kind == "sheet").outline / 2
    scale, _ = find_scale(photo, cloth.things, "auto", sheet)
    assert scale is not None
    card = next(p for p in made.pieces if p.kind == "card")
    middle = tuple((card.outline.mean(axis=0)[::-1] / 2).astype(int))
    assert inside(scale.corners, (600, 800))[middle]
    errors = []
    for k, one, iou in matched(table, 0):
        if iou > 0.93 and not one.cut_off:
            size = rectangle_like(scale.inches(one.outline))[:2]
            errors += list(np.abs(np.array(size) / made.pieces[k - 1].size_in - 1))
    assert np.median(errors) < 0.015
    assert np.percentile(errors, 95) < 0.06


@pytest.mark.parametrize("typed", ["auto", "letter", "6in=1", "6in=400"])
def test_a_bank_card_is_no_scrap_wherever_the_scale_comes_from(typed: str):
    made, (photo, cloth) = scene("grey"), found("grey")
    sheet = next(p for p in made.pieces if p.kind == "sheet").outline / 2
    card = next(p for p in made.pieces if p.kind == "card").outline / 2
    if typed == "6in=1":  # as long as it is
        typed = f"6in={6 * made.ppi:.0f}"
    scale, _ = find_scale(photo, cloth.things, typed, sheet)
    corners, _ = bank_cards(photo, cloth.things, scale, sheet)
    apart = [np.linalg.norm(one.mean(axis=0) - card.mean(axis=0)) for one in corners]
    assert min(apart, default=99) < 5
    assert len(cloth.without(corners).scraps) >= len(cloth.scraps) - 1


def test_without_a_card_no_scale_is_guessed():
    made = make_scene(HELD_BACK + 7, "grey", scraps=6, size=SIZE, card=False)
    photo = photo_of(made.picture)
    cloth = find_cloth(photo, "many")
    sheet = next(p for p in made.pieces if p.kind == "sheet").outline / 2
    assert find_scale(photo, cloth.things, "auto", sheet)[0] is None
    scale, notes = find_scale(photo, cloth.things, "bankcard", sheet)
    assert scale is None
    assert "6in=PIXELS" in notes[0]


def test_a_marked_length():
    photo, cloth = found("grey")
    scale, _ = find_scale(photo, cloth.things, "6in=1200")
    assert scale is not None
    assert scale.ppi(np.array([3.0, 4.0])) == pytest.approx(100.0)  # analysis pixels, factor 2
    assert scale.pixels(scale.inches(np.array([[7.0, 9.0]])))[0] == pytest.approx([7.0, 9.0])
    for wrong, words in (("card", "not known"), ("6in", "not known"), ("6in=0", "more than zero"),
                         ("-1in=20", "more than zero"), ("0in=20", "more than zero"),
                         ("x=3", "'x' is not a length"), ("6in=x", "not known")):  # fmt: skip
        with pytest.raises(UsageError, match=words):
            check_scale(wrong)


@pytest.mark.parametrize("seed", range(500, 512))
def test_a_close_up_of_one_print_is_one(seed: int):
    picture = single_print(seed, (1000, 750))
    photo = Photo("a.jpg", "a", picture, (1000, 750))
    cloth = find_cloth(photo)
    assert cloth.shows == "one"
    assert cloth.scraps[0].area > 0.97 * 750_000


def test_one_print_without_its_margin():
    picture = single_print(3, (1000, 750)).copy()
    picture[:, :40] = 2
    cloth = find_cloth(Photo("a.jpg", "a", picture, (1000, 750)))
    assert cloth.scraps[0].corner[0] in (40, 41)
    opaque = np.ones((750, 1000), bool)
    opaque[:, 700:] = False
    cloth = find_cloth(Photo("a.png", "a", picture, (1000, 750), opaque=opaque))
    assert cloth.scraps[0].outline[:, 0].max() <= 700.5


def test_one_scrap_with_table_around_it():
    made = make_scene(HELD_BACK + 9, "grey", scraps=2, size=SIZE, sheet=False, card=False,
                      cut_off=False, touching=0, near_table=0)
    labels = made.labels[::2, ::2].copy()
    picture = made.picture.copy()
    table = np.median(picture[made.labels == 0], axis=0).astype(np.uint8)
    picture[np.kron(labels == 2, np.ones((2, 2), bool))] = table
    cloth = find_cloth(photo_of(picture), "one")
    assert len(cloth.scraps) == 1
    assert cloth.scraps[0].area > 0.5 * (labels == 1).sum()


def test_asking_for_what_is_not_there():
    bare = np.full((600, 800, 3), 120, np.uint8)
    bare += np.random.default_rng(0).integers(0, 3, bare.shape, dtype=np.uint8)
    with pytest.raises(PhotoError, match="no scraps found"):
        find_cloth(Photo("a.jpg", "a", bare, (800, 600)), "many")
    assert "bare table" in find_cloth(Photo("a.jpg", "a", bare, (800, 600))).notes[0]
    with pytest.raises(UsageError, match="shows 'some' is not known: use one of auto, one, many"):
        find_cloth(Photo("a.jpg", "a", bare, (800, 600)), "some")


def test_reading_order_is_rows_then_left_to_right():
    spots = [(300, 20), (20, 30), (160, 12), (40, 200), (220, 214)]
    scraps = [as_scrap(np.ones((60, 80), bool), spot, (400, 500)) for spot in spots]
    order = [one.corner for one in in_reading_order(scraps)]
    assert order == [(20, 30), (160, 12), (300, 20), (40, 200), (220, 214)]


def test_rectangularity():
    assert rectangularity(np.ones((30, 80), bool)) > 0.98
    assert rectangularity(np.ones((4, 300), bool)) > 0.98
    corner = np.ones((80, 80), bool)
    corner[30:, 30:] = False
    assert rectangularity(corner) < 0.7


@pytest.mark.parametrize("turn", [0, 10, 25, 45])
def test_a_square_is_as_rectangular_at_any_turn(turn: float):
    y, x = np.mgrid[-70:71, -70:71]
    a = np.deg2rad(turn)
    u, v = x * np.cos(a) + y * np.sin(a), y * np.cos(a) - x * np.sin(a)
    assert rectangularity((np.abs(u) < 45) & (np.abs(v) < 44)) > 0.95


def on_a_table(motif: str, ground: int, ink: int = 60) -> tuple[np.ndarray, np.ndarray]:
    """A picture (600, 800, 3) of one scrap on a table of 120, and where the scrap lies."""
    y, x = np.mgrid[0:600, 0:800]
    a = np.deg2rad(8)
    x, y = x - 400, y - 300
    u, v = x * np.cos(a) + y * np.sin(a), y * np.cos(a) - x * np.sin(a)
    scrap = (np.abs(u) < 130) & (np.abs(v) < 95)
    if motif == "dots":
        on = np.hypot(u % 26 - 13, v % 26 - 13) < 5.5
    elif motif == "stripes":
        on = u % 60 < 20
    else:
        on = np.sin(u / 17 + np.sin(v / 13)) + np.sin(v / 19 + np.sin(u / 11)) > 0.7
    level = np.where(scrap, np.where(on, ink, ground), 120).astype(float)
    picture = level[..., None] + np.random.default_rng(5).normal(0, 1.5, (600, 800, 3))
    return np.clip(picture, 0, 255).astype(np.uint8), scrap


@pytest.mark.parametrize(
    ("motif", "ground", "ink"),
    [("dots", 120, 60), ("dots", 121, 165), ("stripes", 123, 60), ("blotch", 124, 60)],
)
def test_what_of_a_print_is_the_tables_colour_belongs_to_it(motif: str, ground: int, ink: int):
    picture, scrap = on_a_table(motif, ground, ink)
    cloth = find_cloth(Photo("a.jpg", "a", picture, (800, 600)), "many")
    assert len(cloth.scraps) == 1
    assert overlap(cloth.scraps[0], scrap) > 0.9


def test_no_line_is_left_in_cloth_between_a_pale_and_a_strong_ink():
    distance = np.zeros((40, 60), np.uint8)
    distance[8:32, 8:52] = 40  # a pale ink, seen
    distance[8:32, 30:40] = 240  # a strong one
    assert _off_table(distance)[13:27, 12:48].all()
    assert not _off_table(distance)[10:30, :7].any()


def test_where_the_best_cut_parts_nothing_the_next_is_tried(monkeypatch):
    mask = np.zeros((120, 200), bool)
    mask[10:60, 10:190] = mask[10:110, 10:70] = True
    picture = np.full((120, 200, 3), 60, np.uint8)
    picture[60:] = (150, 60, 60)
    calls = []

    def split(*how):
        calls.append(how)
        return None if len(calls) == 1 else real(*how)

    real = touching._split
    monkeypatch.setattr(touching, "_split", split)
    assert len(touching.cut_apart(mask, picture, 100)) == 2


def test_two_scraps_side_by_side_with_table_between_stay_two():
    picture, _ = on_a_table("blotch", 120, 120)
    picture[200:400, 200:330] = (150, 60, 60)
    picture[200:400, 345:480] = (60, 60, 150)
    cloth = find_cloth(Photo("a.jpg", "a", picture, (800, 600)), "many")
    assert len(cloth.scraps) == 2
