"""Whether JSON has the declared types, key by key."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints, is_typeddict


def mistakes(value: Any, type_: Any, where: str = "$") -> list[str]:
    """Every place at which a value differs from a type.

    A TypedDict has exactly its keys; a tuple may be a list, as JSON has no tuples; a whole number
    is a float, too, but a bool isn't a number.
    """
    return list(_mistakes(value, type_, where))


def _mistakes(value: Any, type_: Any, where: str) -> Iterator[str]:
    origin, inner = get_origin(type_), get_args(type_)
    if is_typeddict(type_):
        yield from _of_dict(value, type_, where)
    elif origin in (Union, UnionType):
        if all(mistakes(value, one) for one in inner):
            yield f"{where}: {value!r:.60} is none of {inner}"
    elif origin is Literal:
        if value not in inner:
            yield f"{where}: {value!r:.60} is none of {inner}"
    elif origin is list:
        yield from _of_list(value, inner * len(value) if isinstance(value, list) else (), where)
    elif origin is tuple:
        yield from _of_list(value, inner, where)
    elif origin is dict:
        yield from _of_table(value, inner[1], where)
    elif not _is_plain(value, type_):
        yield f"{where}: {value!r:.60} is not {type_}"


def _of_dict(value: Any, type_: Any, where: str) -> Iterator[str]:
    keys = get_type_hints(type_)
    if not isinstance(value, dict):
        yield f"{where}: {value!r:.60} has no keys"
        return
    yield from (f"{where}.{key} is missing" for key in keys.keys() - value.keys())
    yield from (f"{where}.{key} is not declared" for key in value.keys() - keys.keys())
    for key in keys.keys() & value.keys():
        yield from _mistakes(value[key], keys[key], f"{where}.{key}")


def _of_list(value: Any, types: tuple[Any, ...], where: str) -> Iterator[str]:
    if not isinstance(value, list | tuple) or len(value) != len(types):
        yield f"{where}: {value!r:.60} has not {len(types)} items"
        return
    for index, (one, type_) in enumerate(zip(value, types, strict=True)):
        yield from _mistakes(one, type_, f"{where}[{index}]")


def _of_table(value: Any, type_: Any, where: str) -> Iterator[str]:
    if not isinstance(value, dict) or not all(isinstance(key, str) for key in value):
        yield f"{where}: {value!r:.60} has no names as keys"
        return
    for key, one in value.items():
        yield from _mistakes(one, type_, f"{where}.{key}")


def _is_plain(value: Any, type_: Any) -> bool:
    if type_ in (None, NoneType):
        return value is None
    if isinstance(value, bool):
        return type_ is bool
    return isinstance(value, (int, float) if type_ is float else type_)


def spoiled(data: dict[str, Any], path: tuple[Any, ...], key: str) -> dict[str, dict[str, Any]]:
    """Copies of a page's JSON with one mistake each at a place, by what was done there."""
    copies = {change: deepcopy(data) for change in ("take", "add", "spoil")}
    for change, copy in copies.items():
        place: Any = copy
        for step in path:
            place = place[step]
        if change == "take":
            del place[key]
        elif change == "add":
            place["extra"] = 1
        else:
            place[key] = {"something": "else"}
    return copies
