"""Nights of any number of sites in blocks of bounded memory, on one core or several.

Lanes know nothing of each other: block size, order and cores change no number.
Finished blocks are kept on disk, so that a run that was stopped goes on.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import signal
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass, fields, replace
from itertools import chain, islice
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.setting import Setting
from hayweather.farm.bands import Band
from hayweather.nights.drive import Loop, has_compiled_loop, loop_of_blocks, side_by_side
from hayweather.seasons.nights import (
    LANE_HOURS,
    Block,
    NightCuts,
    causes_of,
    cut_lanes,
    gauged,
    nights_of,
    rain_before,
)
from hayweather.seasons.record.grid import CellTallies
from hayweather.seasons.record.nights import RAIN_NIGHT_MM, Missing, Nights
from hayweather.version import __version__
from hayweather.weather.record import NEEDED, HourlyWeather, Source
from hayweather.whole_file import whole_file
from hayweather.windrow.lanes import stack_parameters

Kept = TypeVar("Kept", Nights, CellTallies)
NOWHERE = Source("")


def fingerprint(block: object) -> str:
    """A name for what goes into a block: the same hours and settings, the same name.

    Another version of the package gives another; where the hours come from does
    not, so that a file may be moved.
    """
    if isinstance(block, Block):
        block = replace(block, weather=replace(block.weather, source=NOWHERE))
    content = pickle.dumps((__version__, block), protocol=5)
    return hashlib.sha256(content).hexdigest()[:32]


def read_kept(path: Path, kind: type[Kept]) -> Kept | None:
    """The block kept at `path`; None where there is none, or the file is damaged."""
    try:
        with np.load(path, allow_pickle=False) as stored:
            return kind(**{item.name: stored[item.name] for item in fields(kind)})
    except (OSError, KeyError, ValueError, EOFError, zipfile.BadZipFile):
        return None


def write_kept(block: Nights | CellTallies, path: Path) -> None:
    """Keep a finished block, whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as file:
        np.savez(file, **{item.name: getattr(block, item.name) for item in fields(block)})


BLOCK_NIGHTS, NUMPY_NIGHTS = 1000, 8000
"""Nights of a block by the compiled loop and by NumPy, measured.

Larger ones take more memory; smaller ones leave NumPy few lanes for each of its calls.
On several cores NumPy's are half as large, so that each core has some.
"""
AHEAD = 2  # blocks cut ahead for each core

Called = tuple[int, Band, float]
Outcome = tuple[NDArray[np.int64], Nights]


@dataclass(frozen=True)
class Piece:
    """Some nights of one series of one site, before they are joined into blocks.

    Attributes
    ----------
    label
        Whose nights they are, handed through.
    series, cuts, setting
        Hours, where the nights lie in them, what holds there.
    """

    label: int
    series: HourlyWeather
    cuts: NightCuts
    setting: Setting
    capacity_kg_h: float


@dataclass(frozen=True)
class Batch:
    """A block and the label of each of its nights."""

    block: Block
    labels: NDArray[np.int64]


def run_nights(
    pieces: Iterable[Piece],
    *,
    size: int | None = None,
    cores: int | None = None,
    keep: Path | None = None,
) -> Iterator[Outcome]:
    """What the nights of all pieces gave, block by block, in order.

    Parameters
    ----------
    pieces
        Nights to run; taken one after the other, so that their hours need not
        all be in memory.
    size
        Nights of a block; None as many as serve the loop.
    cores
        Threads, or processes without the compiled loop; None is every core of the
        machine, 1 stays in this thread.
    keep
        A folder in which finished blocks are kept, and found again.

    Yields
    ------
    tuple
        Label of each night of a block, and the nights.
    """
    count = usable_cores() if cores is None else cores
    if size is None:
        size = BLOCK_NIGHTS if has_compiled_loop() else NUMPY_NIGHTS // min(count, 2)
    batches = batches_of(pieces, size, by_site=keep is not None)
    if count == 1:
        yield from _one_core(batches, keep, loop_of_blocks(size * LANE_HOURS))
    else:
        yield from _many_cores(batches, count, keep, loop_of_blocks(size * LANE_HOURS))


def usable_cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _one_core(batches: Iterable[Batch], keep: Path | None, later: Loop) -> Iterator[Outcome]:
    """Block after block in this process; the loop of those after the first."""
    loop: Loop = "auto"
    for batch in batches:
        yield batch.labels, kept_or_run(batch.block, keep, loop)
        loop = later


def _many_cores(
    batches: Iterator[Batch], cores: int, keep: Path | None, loop: Loop
) -> Iterator[Outcome]:
    """Blocks on several cores, a few cut ahead; one block alone needs no second core."""
    first = list(islice(batches, 2))
    if len(first) < 2:
        yield from _one_core(first, keep, loop)
        return
    with _pool(cores) as pool:
        waiting: list[tuple[NDArray[np.int64], Future[Nights]]] = []
        try:
            for batch in chain(first, batches):
                future = pool.submit(kept_or_run, batch.block, keep, loop)
                waiting.append((batch.labels, future))
                if len(waiting) >= AHEAD * cores:
                    labels, future = waiting.pop(0)
                    yield labels, future.result()
            for labels, future in waiting:
                yield labels, future.result()
        finally:
            for _, future in waiting:
                future.cancel()


def _pool(cores: int) -> Executor:
    """Threads for the compiled loop, which shares a process well; else processes."""
    if has_compiled_loop():
        return ThreadPoolExecutor(cores)
    return ProcessPoolExecutor(cores, get_context("spawn"), _leave_stopping_to_parent)


def _leave_stopping_to_parent() -> None:
    """A process of the pool finishes its block when the user stops the run."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def kept_or_run(block: Block, keep: Path | None, loop: Loop = "auto") -> Nights:
    """What the nights of a block gave, from `keep` where it was finished before."""
    if keep is None:
        return nights_of(block, loop)
    path = keep / f"{fingerprint(block)}.npz"
    found = read_kept(path, Nights)
    if found is None:
        found = nights_of(block, loop)
        write_kept(found, path)
    return found


def batches_of(pieces: Iterable[Piece], size: int, *, by_site: bool = False) -> Iterator[Batch]:
    """Pieces cut and joined into blocks of `size` nights; the last may be smaller.

    Another rig or baler begins a block of its own. So does another site with
    `by_site`: nights that one gains then move no block of the others, which are
    found again where they are kept.
    """
    held: list[Piece] = []
    count = 0
    for piece in pieces:
        apart = by_site and held and piece.setting.site != held[0].setting.site
        if held and (apart or _limits(piece) != _limits(held[0])):
            yield _batch(held)
            held, count = [], 0
        first = 0
        while first < piece.cuts.evening.size:
            part = _slice(piece, slice(first, first + size - count))
            held.append(part)
            taken = part.cuts.evening.size
            first, count = first + taken, count + taken
            if count == size:
                yield _batch(held)
                held, count = [], 0
    if held:
        yield _batch(held)


def _limits(piece: Piece) -> tuple[object, ...]:
    """What the nights of a whole block share."""
    return piece.setting.rig, piece.capacity_kg_h


def _slice(piece: Piece, lanes: slice) -> Piece:
    """Some nights of a piece."""
    return replace(piece, cuts=piece.cuts.only(lanes))


def block_of(piece: Piece) -> Block:
    """The nights of one piece as a block of their own."""
    rain, unknown = rain_before(piece.series, piece.cuts)
    causes = causes_of(piece.series, piece.cuts)
    causes[unknown & (rain <= RAIN_NIGHT_MM) & (causes & Missing.NO_SUNSET == 0)] |= (
        Missing.RAIN_BEFORE
    )
    return Block(
        weather=cut_lanes(piece.series, piece.cuts),
        cuts=piece.cuts,
        setting=piece.setting,
        rain_before_mm=rain,
        causes=causes,
        rain_known=gauged(piece.series, piece.cuts),
        capacity_kg_h=piece.capacity_kg_h,
    )


def _batch(pieces: Sequence[Piece]) -> Batch:
    """Pieces side by side in one block."""
    blocks = [block_of(piece) for piece in pieces]
    counts = [block.cuts.evening.size for block in blocks]
    labels = np.repeat([piece.label for piece in pieces], counts)
    if len(blocks) == 1:
        return Batch(replace(blocks[0], weather=_without_blank(blocks[0].weather)), labels)
    setting = replace(
        blocks[0].setting,
        place=stack_parameters([block.setting.place for block in blocks], counts),
        windrow=stack_parameters([block.setting.windrow for block in blocks], counts),
    )
    block = Block(
        weather=_without_blank(side_by_side([block.weather for block in blocks])),
        cuts=_join_cuts([block.cuts for block in blocks]),
        setting=setting,
        rain_before_mm=np.concatenate([block.rain_before_mm for block in blocks]),
        causes=np.concatenate([block.causes for block in blocks]),
        rain_known=np.concatenate([block.rain_known for block in blocks]),
        capacity_kg_h=blocks[0].capacity_kg_h,
        bands=_bands([block.setting for block in blocks], counts),
    )
    return Batch(block, labels)


def _bands(settings: Sequence[Setting], counts: Sequence[int]) -> tuple[Called, ...]:
    """Lanes that follow each other and share a band and a target."""
    found: list[Called] = []
    for setting, count in zip(settings, counts, strict=True):
        limits = setting.band, setting.target_wb
        before = found.pop()[0] if found and found[-1][1:] == limits else 0
        found.append((before + count, *limits))
    return tuple(found)


def _join_cuts(parts: Sequence[NightCuts]) -> NightCuts:
    """Plans one after the other."""
    names = [item.name for item in fields(NightCuts)]
    return NightCuts(
        **{name: np.concatenate([getattr(cuts, name) for cuts in parts]) for name in names}
    )


def _without_blank(weather: HourlyWeather) -> HourlyWeather:
    """The weather without columns that no lane has, but for the needed ones."""
    kept = {
        name: values
        for name, values in weather.columns.items()
        if name in NEEDED or not np.isnan(values).all()
    }
    return replace(weather, columns=kept)
