"""Changes that are held, tried again when what they lacked may have arrived; each keeps the device that sent it."""

from collections.abc import Iterable

from .exchange import SHUT, Accept, Arrival, Receipt, arrive, store_arrivals
from .log import Store

# Held for good unless somebody asks for them by reason: these do not get better by waiting.
NOT_RETRIED = frozenset(("other_content", "hash_mismatch", *SHUT))


def retry_held(store: Store, accept: Accept | None = None, reasons: Iterable[str] | None = None) -> list[Receipt]:
    """Receipts of held changes tried again, each under the device that sent it.

    reasons: which to try; without it all that can get better by waiting (not a revoked device, not other content).
    """
    wanted = frozenset(reasons) if reasons is not None else None
    by_device: dict[str, list[Arrival]] = {}
    with store.working():
        rows = store.rows("SELECT body, stated_hash, device, reason FROM held WHERE resolved_at = '' ORDER BY number")
    for body, stated_hash, device, reason in rows:
        if reason in wanted if wanted is not None else reason not in NOT_RETRIED:
            text = bytes(body).decode("utf-8", "surrogatepass")
            by_device.setdefault(device, []).append(arrive(store, text, stated_hash, accept))
    receipts = []
    for device, arrivals in by_device.items():
        with store.writing() as counter:
            receipts.extend(store_arrivals(store, counter, device, arrivals))
    return receipts
