# mypy: disable-error-code="type-arg"
"""The standing answers of a record: a pure function of the set of changes. Portable Python, runs on the phone too.

For each field:  gone  = every id that a change of the set replaces,
                 heads = every answer of the set whose id is not gone.
Both only ever depend on which changes are in the set, so order, repetition, delay and batching cannot matter and a
replaced answer cannot come back. Different fields never meet. Nothing here reads a clock.
"""

LATER = "later"


def apply(snapshot: dict | None, change: dict) -> dict:
    """The snapshot with one change laid over it; the given snapshot stays as it was (None: no record yet)."""
    return apply_all(snapshot, [change])


def apply_all(snapshot: dict | None, changes: list) -> dict:
    """The snapshot with changes of the same record laid over it; the given snapshot stays as it was."""
    if snapshot is None:
        if not changes:
            raise ValueError("no snapshot and no change: there is no record to speak of")
        result = empty(changes[0]["record"], changes[0]["kind"])
    else:
        result = empty(snapshot["record"], snapshot["kind"])
        for field in snapshot["heads"]:
            result["heads"][field] = list(snapshot["heads"][field])
        gone = snapshot.get("gone", {})
        for field in gone:
            result["gone"][field] = list(gone[field])
    for change in changes:
        lay(result, change)
    return result


def empty(record: str, kind: str) -> dict:
    """The snapshot of a record that no change has named yet."""
    return {"record": record, "kind": kind, "heads": {}, "gone": {}}


def lay(snapshot: dict, change: dict) -> list:
    """Lays one change into this very snapshot and returns the sorted fields whose standing answers it changed."""
    if change["record"] != snapshot["record"]:
        raise ValueError("a change of " + change["record"] + " does not belong to " + snapshot["record"])
    all_heads = snapshot["heads"]
    all_gone = snapshot["gone"]
    replaces = change["replaces"]
    identity = change["id"]
    moved = []
    for field in sorted(change["set"]):
        heads = all_heads.get(field)
        if heads is None and field not in replaces and field not in all_gone:  # the first word on this field
            all_heads[field] = [answer_of(change, field)]
            moved.append(field)
            continue
        is_moved = False
        if heads is None:
            heads = all_heads[field] = []
        replaced = replaces.get(field)
        if replaced:
            gone = all_gone.get(field)
            if gone is None:
                gone = all_gone[field] = []
            for other in replaced:
                where = _place(gone, other)
                if where == len(gone) or gone[where] != other:
                    gone.insert(where, other)
                where = _place_of_answer(heads, other)
                if where < len(heads) and heads[where]["id"] == other:
                    heads.pop(where)
                    is_moved = True
        where = _place_of_answer(heads, identity)
        if (where == len(heads) or heads[where]["id"] != identity) and not _is_in(all_gone.get(field), identity):
            heads.insert(where, answer_of(change, field))
            is_moved = True
        if is_moved:
            moved.append(field)
    return moved


def answer_of(change: dict, field: str) -> dict:
    """One field of a change as a standing answer; its id is the id of the change."""
    # the value first: what all answers of a change share then stands in one piece, and a pull packs a tenth smaller
    answer = {"value": change["set"][field], "id": change["id"], "by": change["by"], "at": change["at"],
              "lamport": change["lamport"]}
    if "basis" in change:
        answer["basis"] = change["basis"]
    return answer


def standing(snapshot: dict | None, field: str) -> list:
    """The standing answers of a field, sorted by id; none where nobody has answered."""
    if snapshot is None:
        return []
    answers: list = snapshot["heads"].get(field, [])
    return answers


def view(snapshot: dict, policy_of) -> dict:  # type: ignore[no-untyped-def]
    """What screens read: for each answered field its answers, the value in use and whether it is open.

    Open: different answers stand. Then nothing is in use, except where policy_of(kind, field) is "later": there the
    highest lamport, then the highest id. Equal answers are settled.
    """
    fields = {}
    for field in sorted(snapshot["heads"]):
        answers = snapshot["heads"][field]
        if not answers:
            continue
        used = answers[0]["value"]
        is_open = False
        if len(answers) > 1:
            is_open = not _are_equal(answers)
            if is_open:
                used = _latest(answers)["value"] if policy_of(snapshot["kind"], field) == LATER else None
        fields[field] = {"answers": answers, "used": used, "open": is_open}
    return {"record": snapshot["record"], "kind": snapshot["kind"], "fields": fields}


def canonical(value: object) -> str:
    """A JSON text that is the same for equal values on every interpreter: sorted keys, no spaces, few escapes.

    >>> canonical({"b": [1, True, None], "a": "x"})
    '{"a":"x","b":[1,true,null]}'
    """
    if value is None:
        return "null"
    if value is True:
        return "true"
    if value is False:
        return "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, int):  # portable: True and False are answered above
        return str(value)
    if isinstance(value, float):
        if value != value or value - value != 0:
            raise ValueError("not a finite number")
        if value == int(value):
            return str(int(value))
        return repr(value)  # portable: stored numbers are texts; a float with decimals stays on its machine
    if isinstance(value, dict):
        return "{" + ",".join([_quoted(key) + ":" + canonical(value[key]) for key in sorted(value)]) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ",".join([canonical(item) for item in value]) + "]"
    raise ValueError("no JSON value: " + str(type(value)))


def _are_equal(answers: list) -> bool:
    first = canonical(answers[0]["value"])
    return all(canonical(answer["value"]) == first for answer in answers[1:])


def _latest(answers: list) -> dict:
    best: dict = answers[0]
    for answer in answers[1:]:
        if (answer["lamport"], answer["id"]) > (best["lamport"], best["id"]):
            best = answer
    return best


def _place(ids: list, identity: str) -> int:
    """Where the id stands, or would stand, in a sorted list of ids."""
    low, high = 0, len(ids)
    while low < high:
        middle = (low + high) // 2
        if ids[middle] < identity:
            low = middle + 1
        else:
            high = middle
    return low


def _place_of_answer(answers: list, identity: str) -> int:
    """Where the answer of that id stands, or would stand, in answers sorted by id."""
    low, high = 0, len(answers)
    while low < high:
        middle = (low + high) // 2
        if answers[middle]["id"] < identity:
            low = middle + 1
        else:
            high = middle
    return low


def _is_in(ids: list | None, identity: str) -> bool:
    if not ids:
        return False
    where = _place(ids, identity)
    return where < len(ids) and ids[where] == identity


def _quoted(text: str) -> str:
    text = text.replace("\\", "\\\\").replace('"', '\\"')
    if text and min(text) < " ":
        escaped = ""
        for character in text:
            code = ord(character)
            if code < 32:
                character = "\\u00" + "0123456789abcdef"[code // 16] + "0123456789abcdef"[code % 16]
            escaped += character
        text = escaped
    return '"' + text + '"'
