"""Changes that many devices make apart and that come together without losing one. Knows nothing of filters.

json_text JSON read strictly, or quickly where nothing can go wrong
change    one immutable change: shape, limits, hash, wire text
merge     standing answers of a record: a pure function of the set of changes; runs on the phone too
log       the store: every accepted change once, in order, its bytes verbatim; snapshots, references, held changes
exchange  push, pull, fetch; one transaction each
tidying   SQLite's journal moved into the database beside the requests
held      the retry of held changes;  erasing  forgetting a person without breaking the chain
wire      requests and answers as bytes, for any web framework
shapes    what every route takes and gives, and every error;  openapi  the same as a description for other programs
audit     the raw log in pages, and a store made from it alone
by_hand   an outbox that travels as a file;  photos_by_hand  the photos in it
photos    photos by their hash, resumable, checked;  pictures  what may be shown of them
client    a reference client;  link  how it reaches a server;  photo_client  how it sends photos

Promises: equal sets of changes give equal records, byte for byte; a delivery repeated is a delivery once;
a receipt means stored on disk; what cannot be accepted is kept raw and blocks nothing; a reader misses nothing.
PROTOCOL.md says how to talk to it. This file imports nothing, because the phone loads it beside merge.
"""
