"""The item bank as a package of QTI 2.1: a manifest and an XML file for each item, zipped.

A choice is a ``choiceInteraction``, steps an ``orderInteraction``, and a number a
``textEntryInteraction`` with the item's tolerance, for the numbers of one draw. What is said to
each answer, right or slipped, goes along as modal feedback. A figure is a PNG with its alt text.

Sources
-------
1EdTech QTI 2.1 (imsglobal.org/question): the schema of the item, imsqti_v2p1p2.xsd, and of the
manifest, qtiv2p1_imscpv1p2_v1p0.xsd; see tests/outside/qti.toml. What the elements mean is from
memory of the assessment item's information model.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree

from shared_utils import CAUTION
from shared_utils.bank.posed import filled, pose
from shared_utils.standards.package import write_zip

if TYPE_CHECKING:
    from collections.abc import Iterable
    from os import PathLike
    from xml.etree.ElementTree import Element

    from shared_utils.bank.items import Item

ITEM_NAMESPACE = "http://www.imsglobal.org/xsd/imsqti_v2p1"
PACKAGE_NAMESPACE = "http://www.imsglobal.org/xsd/imscp_v1p1"
ITEM_TYPE = "imsqti_item_xmlv2p1"
LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"


def write(items: Iterable[Item], file: str | PathLike[str], seed: int = 1) -> int:
    """Write items as a package and return how many.

    Parameters
    ----------
    items : iterable of shared_utils.bank.items.Item
    file : path-like
        A zip file.
    seed : int
        Another seed draws other numbers.

    Returns
    -------
    int

    Raises
    ------
    ValueError
        If there is no item.
    """
    items = tuple(items)
    if not items:
        raise ValueError("There is no item to write; name lessons that have some.")
    files = {}
    for item in items:
        figure = pose(item, seed).shown_figure()
        picture = (f"images/{item.key}.png", figure.alt) if figure is not None else None
        files[f"items/{item.key}.xml"] = _text(assessment_item(item, seed, picture))
        if picture and figure is not None:
            files[f"items/{picture[0]}"] = figure.png()
    write_zip(file, {"imsmanifest.xml": _text(_manifest(items, files)), **files})
    return len(items)


def assessment_item(item: Item, seed: int = 1, picture: tuple[str, ...] | None = None) -> Element:
    """Return an item as QTI has it.

    Parameters
    ----------
    item : shared_utils.bank.items.Item
    seed : int
    picture : tuple of str, optional
        Where its figure lies, and the alt text.

    Returns
    -------
    xml.etree.ElementTree.Element
    """
    asked = pose(item, seed)
    root = ElementTree.Element(
        "assessmentItem",
        {
            "xmlns": ITEM_NAMESPACE,
            "identifier": item.key,
            "title": item.key.replace("-", " ").capitalize(),
            "adaptive": "false",
            "timeDependent": "false",
            LANGUAGE: "en",
        },
    )
    right, cardinality, base = _right(asked)
    about = {"identifier": "RESPONSE", "cardinality": cardinality, "baseType": base}
    correct = _add(_add(root, "responseDeclaration", about), "correctResponse")
    for value in right:
        _add(correct, "value", text=value)
    score = {"identifier": "SCORE", "cardinality": "single", "baseType": "float"}
    zero = _add(_add(root, "outcomeDeclaration", score), "defaultValue")
    _add(zero, "value", text="0")
    feedback = {"identifier": "FEEDBACK", "cardinality": "single", "baseType": "identifier"}
    _add(root, "outcomeDeclaration", feedback)
    _body(_add(root, "itemBody"), asked, picture)
    answers = _answers(asked)
    _processing(_add(root, "responseProcessing"), asked, answers)
    for name, _, message in answers:
        about = {"outcomeIdentifier": "FEEDBACK", "identifier": name, "showHide": "show"}
        _add(_add(root, "modalFeedback", about), "p", text=message)
    return root


def names_of(item: Item) -> list[str]:
    """Return the identifiers of an item's options or steps, in the order of the bank.

    Parameters
    ----------
    item : shared_utils.bank.items.Item

    Returns
    -------
    list of str
    """
    return [f"choice_{n}" for n, _ in enumerate(item.steps or item.options, start=1)]


def _right(asked):
    """The right answer, as values; its cardinality and type."""
    item = asked.item
    if item.kind == "number":
        return [repr(float(asked.right))], "single", "float"
    if item.kind == "order":
        return names_of(item), "ordered", "identifier"
    names = zip(names_of(item), item.options, strict=True)
    return [name for name, option in names if option.key], "single", "identifier"


def _answers(asked):
    """What is said to each answer: its name, the value it stands for, and the words.

    The first is the right answer and the last any other, where there is such.
    """
    item = asked.item
    if item.kind == "choice":
        named = zip(names_of(item), asked.options, strict=True)
        return [(name, name, option.feedback) for name, option in named]
    reply = asked.mark(str(asked.right)).message
    slips = []
    if item.kind == "number":
        for n, slip in enumerate(item.slips, start=1):
            message = f"{filled(slip.feedback, asked.numbers)} {reply}"
            slips.append((f"slip_{n}", repr(float(asked.numbers[slip.name])), message))
    return [("right", None, reply), *slips, ("other", None, reply)]


def _body(body, asked, picture):
    item = asked.item
    if picture:
        _add(_add(body, "p"), "img", {"src": picture[0], "alt": picture[1]})
    if item.kind == "number":
        _add(body, "p", text=asked.stem)
        line = _add(body, "p")
        entry = _add(line, "textEntryInteraction", {"responseIdentifier": "RESPONSE"})
        entry.set("expectedLength", "8")
        entry.tail = f" {item.unit}" if item.unit else None
    else:
        kind = "orderInteraction" if item.kind == "order" else "choiceInteraction"
        about = {"responseIdentifier": "RESPONSE", "shuffle": "true"}
        if item.kind == "choice":
            about["maxChoices"] = "1"
        asking = _add(body, kind, about)
        _add(asking, "prompt", text=asked.stem)
        lines = item.steps or [option.text for option in asked.options]
        names = dict(zip(lines, names_of(item), strict=True))
        for line in asked.choices:  # as they were shuffled, for a reader that does not
            _add(asking, "simpleChoice", {"identifier": names[line]}, line)
    _add(body, "p", text=CAUTION)


def _processing(processing, asked, answers):
    condition = _add(processing, "responseCondition")
    held = _add(condition, "responseIf")
    _compare(held, asked)
    _set(held, "SCORE", "float", "1")
    if asked.item.kind == "choice":
        named = _add(processing, "setOutcomeValue", {"identifier": "FEEDBACK"})
        _add(named, "variable", {"identifier": "RESPONSE"})
        return
    _set(held, "FEEDBACK", "identifier", answers[0][0])
    for name, value, _ in answers[1:-1]:
        slipped = _add(condition, "responseElseIf")
        _compare(slipped, asked, value)
        _set(slipped, "FEEDBACK", "identifier", name)
    _set(_add(condition, "responseElse"), "FEEDBACK", "identifier", answers[-1][0])


def _compare(branch, asked, value=None):
    """Ask whether the answer is the right one, or a value."""
    if asked.item.kind == "number":
        within = {"toleranceMode": "absolute", "tolerance": repr(float(asked.item.within))}
        comparing = _add(branch, "equal", within)
    else:
        comparing = _add(branch, "match")
    _add(comparing, "variable", {"identifier": "RESPONSE"})
    if value is None:
        _add(comparing, "correct", {"identifier": "RESPONSE"})
    else:
        _add(comparing, "baseValue", {"baseType": "float"}, value)


def _set(branch, outcome, base, value):
    setting = _add(branch, "setOutcomeValue", {"identifier": outcome})
    _add(setting, "baseValue", {"baseType": base}, value)


def _manifest(items, files):
    root = ElementTree.Element(
        "manifest", {"xmlns": PACKAGE_NAMESPACE, "identifier": "lens-course-items"}
    )
    about = _add(root, "metadata")
    _add(about, "schema", text="QTIv2.1 Package")
    _add(about, "schemaversion", text="1.0.0")
    _add(root, "organizations")
    resources = _add(root, "resources")
    for item in items:
        place, picture = f"items/{item.key}.xml", f"items/images/{item.key}.png"
        about = {"identifier": f"item-{item.key}", "type": ITEM_TYPE, "href": place}
        resource = _add(resources, "resource", about)
        for name in (place, picture):
            if name in files:
                _add(resource, "file", {"href": name})
    return root


def _add(parent, tag, attributes=None, text=None):
    child = ElementTree.SubElement(parent, tag, attributes or {})
    child.text = text
    return child


def _text(root):
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
