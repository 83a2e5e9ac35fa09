"""What the supplied boxes hold, held against what the plant needs: packed, left out, and not needed for this use."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from rinsewright.building.result import Item
from rinsewright.errors import InputError
from rinsewright.plant.joints import End, joint
from rinsewright.site.schema import KitItem

# One word for what a kit's list calls by several. Common practice, no source.
SAME = {
    "filter": "cartridge",
    "membrane": "element",
    "tubing": "tube",
    "pipe": "tube",
    "hosepipe": "hose",
    "nrv": "check",
    "asov": "shut off",
    "canister": "housing",
    "manometer": "gauge",
    "flow": "",
    "automatic": "",
    "auto": "",
    "valve": "",
    "a": "",
    "the": "",
    "of": "",
    "with": "",
    "and": "",
    "for": "",
    "di": "resin",
    "mixed": "",
    "bed": "",
    "tds": "meter",
    "ppm": "",
    "conductivity": "",
    "or": "",
}
ELEMENT_HOUSING = ({"element", "housing"}, {"element", "vessel"}, {"pressure", "vessel"})
# What kits for drinking water hold and this use does not need. Common practice, no source.
NOT_FOR_THIS = (
    (
        r"taste|post.?(carbon|filter)|polish\w* (carbon|filter)",
        "A taste filter is for drinking: behind the membranes it gives carbon fines and salts to water that is to dry "
        "without spots. Leave it out.",
    ),
    (
        r"mineral|alkaline|calcite|remin",
        "It puts minerals back into the product, and they dry to spots. Leave it out.",
    ),
    (r"\buv\b|ultra.?violet|steril", "It disinfects drinking water; washing water does not need it."),
    (r"faucet|drinking|kitchen|\bice\b", "It serves drinking water, and the water made here is not for drinking."),
    (
        r"(bladder|pressure|pressurised|pressurized) tank|accumulator",
        "A pressure tank pushes back on the membranes: they make less product, and worse. An open tank does not.",
    ),
)  # fmt: skip


def packed(items: Sequence[Item], kit: Sequence[KitItem] | None) -> list[Item]:
    """The rows with what of each is in the kit, and a row for everything in the kit that the plant does not need.

    Without a kit nothing is said about it.
    """
    if kit is None:
        return list(items)
    held = [0.0] * len(items)
    extras: list[Item] = []
    for number, entry in enumerate(kit):
        quantity = 1.0 if entry.quantity is None else entry.quantity
        rows = _rows_for(items, entry)
        if not rows:
            extras.append(_extra(number, entry, quantity, items))
            continue
        for row in rows:
            part = min(quantity, max(0.0, items[row].quantity - held[row]))
            held[row] += part
            quantity -= part
        held[rows[-1]] += quantity  # spare ones are no extras
    found = [replace(item, kit_quantity=share) for item, share in zip(items, held, strict=True)]
    return [*found, *extras]


def _rows_for(items: Sequence[Item], entry: KitItem) -> list[int]:
    """The rows that an entry of the kit is, those of its very name first."""
    exact = [n for n, item in enumerate(items) if _flat(item.what) == _flat(entry.what) and _sizes_agree(item, entry)]
    if exact:
        return exact
    if _not_for_this(entry):
        return []
    words = _words(entry.what)
    sized = [(n, item, _words(item.what)) for n, item in enumerate(items) if _sizes_agree(item, entry)]
    if alike := [n for n, _, ours in sized if _alike(ours, words)]:
        return alike
    wider = [(n, item.what) for n, item, ours in sized if words and words < ours]  # "restrictor", "housing 4040"
    return [n for n, _ in wider] if len({what for _, what in wider}) == 1 else []


def _alike(item: frozenset[str], given: frozenset[str]) -> bool:
    """The same words, or the row's words among those of the kit ("10 in sediment cartridge, 5 micron")."""
    return bool(item) and (item == given or (len(item) > 1 and item < given))


def _words(text: str) -> frozenset[str]:
    """The words of a name, singular and by one name each."""
    words = re.findall(r"[a-z]+", _flat(text))
    found = {piece for word in words for piece in SAME.get(word, word).split()}
    if any(found >= housing for housing in ELEMENT_HOUSING):
        return frozenset({"element", "housing"})
    return frozenset(found)


def _flat(text: str) -> str:
    words = re.sub(r"[^a-z0-9./]+", " ", text.lower().replace("membrane element", "element")).split()
    return " ".join(_singular(word) for word in words).replace("shutoff", "shut off").replace("non return", "check")


def _singular(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word


def _sizes_agree(item: Item, entry: KitItem) -> bool:
    """Sizes alike, or one of them not said."""
    if entry.size is None or not item.size:
        return True
    ours, theirs = _size(item.size), _size(entry.size)
    return ours == theirs or set(ours.split()) >= set(theirs.split())


def _size(text: str) -> str:
    """A size in one spelling."""
    words = re.sub(r'"|″|\binch(es)?\b', " in ", text.lower())
    words = re.sub(r"(?<=\d)(?=in\b|mm\b|l\b|m\b)", " ", words)
    words = re.sub(r"\blit(re|er)s?\b", "l", words)
    return " ".join(re.sub(r"[-×x,]", " ", words).split())


def _not_for_this(entry: KitItem) -> str | None:
    text = f"{entry.what} {entry.size or ''}".lower()
    return next((why for pattern, why in NOT_FOR_THIS if re.search(pattern, text)), None)


def _extra(number: int, entry: KitItem, quantity: float, items: Sequence[Item]) -> Item:
    why = _not_for_this(entry) or _other_size(entry, items) or "Nothing in this plant takes it."
    return Item(
        f"kit[{number}]", entry.what, entry.size or "", quantity, "piece", "extra", why, False, quantity, None, None,
        "site file",
    )  # fmt: skip


def _other_size(entry: KitItem, items: Sequence[Item]) -> str | None:
    """Why a thing of the right name and another size does not do, in the words of the joint where there is one."""
    like = next((item for item in items if _alike(_words(item.what), _words(entry.what))), None)
    if like is None or entry.size is None:
        return None
    why = f"This plant needs the size {like.size}."
    pairs = {
        "cartridge housing": (("cartridge", like.size), ("cartridge housing", entry.size)),
        "membrane housing": (("membrane", like.size), ("membrane housing", entry.size)),
        "membrane element": (("membrane", entry.size), ("membrane housing", like.size)),
        "tube": (("tube", entry.size), ("push-fit", like.size)),
    }
    kind = like.what if like.what in pairs else "cartridge" if like.what.endswith("cartridge") else ""
    if kind == "cartridge":
        pairs[kind] = (("cartridge", entry.size), ("cartridge housing", like.size))
    if kind:
        try:
            a, b = (End.parse(" ".join(words)) for words in pairs[kind])
        except InputError:  # a size that has no such end
            return why
        why = f"{why} {joint(a, b).why}"
    return why
