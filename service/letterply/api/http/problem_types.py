"""The published problem types: code -> title and what to do. Append-only.

Served under `/problems/<code>`. The title of a type never depends on the occurrence.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PROBLEM_TYPES", "ProblemType", "problem_type"]


@dataclass(frozen=True, slots=True)
class ProblemType:
    """One kind of problem.

    Attributes:
        title: short, the same for every occurrence.
        advice: what is behind it and what to do, in words.

    """

    title: str
    advice: str


_RECIPE = "`field` names the place in the request and `expected` says what would be right."

PROBLEM_TYPES: dict[str, ProblemType] = {
    # the request as text
    "malformed-json": ProblemType(
        "The body is not JSON",
        "The body could not be read as JSON (RFC 8259). `line` and `column` say where it stops "
        "making sense.",
    ),
    "not-json": ProblemType(
        "A value that JSON does not allow",
        "Numbers must be finite and text well-formed Unicode.",
    ),
    "not-text": ProblemType(
        "Text that is not Unicode",
        "Text must be well-formed Unicode: a surrogate never stands alone (RFC 8259, section 8.2).",
    ),
    "not-an-object": ProblemType("The body is not an object", "The body must be a JSON object."),
    "body-too-large": ProblemType(
        "The body is too large", "`limit_bytes` is the most that this operation takes."
    ),
    "unsupported-media-type": ProblemType(
        "The body is of a type that is not accepted here", "`expected` names the types that are."
    ),
    "not-acceptable": ProblemType(
        "There is no answer of the type that you accept",
        "`offered` lists the types that there are.",
    ),
    "invalid-request": ProblemType(
        "A parameter is missing or wrong", f"{_RECIPE} `errors` lists all of them."
    ),
    # who and where
    "not-found": ProblemType("There is nothing here", "The path names nothing in this service."),
    "method-not-allowed": ProblemType(
        "This cannot be done here", "The header `Allow` lists the methods of the path."
    ),
    "missing-key": ProblemType(
        "An API key is needed",
        "Send `Authorization: Bearer <secret>` with a secret that the operator gave you.",
    ),
    "insufficient-scope": ProblemType(
        "The API key does not allow this", "`needed` names the scope that it lacks."
    ),
    "loopback-only": ProblemType(
        "This service answers on its own machine only",
        "No API keys are configured, so only clients on the same machine are served, under a "
        "loopback name, and no pages of other origins.",
    ),
    # jobs
    "job-not-found": ProblemType("There is no such result", "Ids come from the answer to a POST."),
    "plan-not-found": ProblemType("There is no such plan", "`/v1/plans` lists what there is."),
    "font-not-found": ProblemType("There is no such font", "`/v1/fonts` lists what there is."),
    "material-not-found": ProblemType("There is no such material", "See `/v1/materials`."),
    "cutter-not-found": ProblemType("There is no such cutter", "See `/v1/cutters`."),
    "machine-not-found": ProblemType("There is no such machine", "See `/v1/machines`."),
    "template-not-found": ProblemType("There is no such template", "See `/v1/templates`."),
    "stock-not-found": ProblemType("There is no such stock", "See `/v1/stock`."),
    "file-not-found": ProblemType(
        "The result has no such file", "`files` in the document lists those that it has."
    ),
    "name-needed": ProblemType(
        "There are several files of this type", "Choose one with `?name=`; `names` lists them."
    ),
    "plan-not-proved": ProblemType(
        "The programs of this plan did not pass their proof",
        "An independent check of the programs found that they would not make the parts. The "
        "findings say where. Change the recipe, cutter or stock. Who has checked the programs by "
        "eye and takes the risk can ask with `?override=accept-unproved`.",
    ),
    "job-timeout": ProblemType(
        "It took too long",
        "The operator limits the time of one request. Ask for less at once. `made` has links to "
        "what is there all the same.",
    ),
    "job-memory": ProblemType(
        "It needs too much memory",
        "The operator limits the memory of one request. Ask for less at once.",
    ),
    "job-crashed": ProblemType(
        "It failed through a fault of the service",
        "The request may be fine. The log of the service says more, under the id in `instance`.",
    ),
    "job-outdated": ProblemType("It was cut off by a change of the service", "Ask for it again."),
    "overtaken": ProblemType(
        "A newer question of the same client waits", "Nothing to do: the newer one is answered."
    ),
    "request-timeout": ProblemType(
        "The request took too long to arrive", "Send the head of a request in one go."
    ),
    "service-stopping": ProblemType(
        "The service stops",
        "It was told to stop while the request was being answered. Ask again after the time in "
        "`Retry-After`; what was accepted is not lost.",
    ),
    "bad-host": ProblemType(
        "The Host header names no host",
        "It holds a name or an address and, where it is not the usual one, a port; never user "
        "information (RFC 9110, section 7.2).",
    ),
    "bad-owner": ProblemType(
        "No name of an owner",
        "`Letterply-Owner` is small letters, digits, dots and dashes, 60 at most.",
    ),
    "bad-key": ProblemType(
        "An API key cannot be made like this",
        "`field` names what cannot be used and `expected` says what would be right.",
    ),
    "bad-webhook": ProblemType(
        "A webhook cannot go there",
        "It goes to public addresses by https, and to networks that the operator allows "
        "(`LETTERPLY_WEBHOOK_NETWORKS`).",
    ),
    "too-many-webhooks": ProblemType(
        "An owner has as many webhooks as it may", "Remove one (`DELETE /v1/webhooks/{id}`) first."
    ),
    "webhook-not-found": ProblemType(
        "There is no such webhook", "`GET /v1/webhooks` lists those that there are."
    ),
    "event-not-found": ProblemType(
        "No call to this webhook tells of such an event",
        "`after` names the last event of the page before.",
    ),
    "too-many-requests": ProblemType(
        "Too many requests in a short time",
        "`limit`, where it is told, is how many an owner may send in a minute. Try again after the "
        "time in `Retry-After`.",
    ),
    "owner-busy": ProblemType(
        "An owner has as much under way as it may",
        "`limit` is how many jobs of an owner may wait or run at once, and how many orders may be "
        "open. Try again once one of them is done.",
    ),
    "owner-full": ProblemType(
        "What is kept for an owner takes all the room that it may",
        "Delete results, orders, fonts or drawings (`DELETE`), or ask the operator for more room. "
        "`GET /v1/usage` says what there is.",
    ),
    "precondition-failed": ProblemType(
        "It is not what the request takes it for",
        "`If-Match` names an entity tag that this is not: ask for it again to see what it is now.",
    ),
    "range-not-satisfiable": ProblemType(
        "The range lies outside of the file", "`size_bytes` is how long the file is."
    ),
    "job-stopped": ProblemType(
        "The job was stopped",
        "Its owner deleted it, or the service was stopped. Ask for it again after the time in "
        "`Retry-After`.",
    ),
    "problem-not-found": ProblemType("There is no such problem type", "See `/problems`."),
    "page-not-found": ProblemType("There is no such part of a page", "The page itself is at `/`."),
    "key-not-found": ProblemType("There is no such API key", "`GET /v1/keys` lists those."),
    "service-busy": ProblemType(
        "Too many requests are under way", "Try again after the time in `Retry-After`."
    ),
    "store-busy": ProblemType(
        "The database does not answer",
        "Another process holds it, it is being restarted, or its disk is full. Nothing of the "
        "request was kept. Try again after the time in `Retry-After`.",
    ),
    "idempotency-key-reused": ProblemType(
        "The idempotency key was used with another request", "Make a new key for a new request."
    ),
    "idempotency-key-running": ProblemType(
        "The request with this idempotency key is still running",
        "Send the same request again in a moment.",
    ),
    # orders
    "order-not-accepted": ProblemType(
        "The order is not accepted",
        "Nothing of it was stored. `mistakes` lists all that is wrong, each with `line` (of the "
        "order), `row` (of the file), `column`, `code` and what is `expected`.",
    ),
    "unknown-encoding": ProblemType(
        "The encoding of the file is not known",
        "Save it as UTF-8, or name its encoding (`text/csv; charset=...`). One-byte encodings "
        "look alike, and a guess could cut a wrong name.",
    ),
    "bad-encoding": ProblemType("The file is not in the encoding that it claims", _RECIPE),
    "no-lines": ProblemType("The order has no lines", _RECIPE),
    "unknown-recipe": ProblemType("The recipe is not known", _RECIPE),
    "larger-than-any-sheet": ProblemType("It is larger than any sheet on the rack", _RECIPE),
    "order-not-found": ProblemType("There is no such order", "Ids come from the answer to a POST."),
    "unknown-order": ProblemType("The order is not known", _RECIPE),
    "order-cancelled": ProblemType(
        "The order was cancelled", "Ask for it again: what was made of it is not made twice."
    ),
    "order-unfinished": ProblemType(
        "The order is not finished", "`state` says where it is; `links.events` tells its progress."
    ),
    "nothing-lost": ProblemType(
        "Nothing of the order was lost",
        "Only what a fault of the service took away (time, memory, a crash) can be asked for "
        "again. A line that cannot be made has its reason in the document: put it right and send "
        "the list with `revises`.",
    ),
    "unknown-line": ProblemType("The order has no such line", _RECIPE),
    # offers
    "offer-not-found": ProblemType(
        "There is no such offer",
        "Ids come from the answer to a POST. Of a customer's link nothing may be missing.",
    ),
    "offer-not-ready": ProblemType(
        "What cannot be made is not offered",
        "An offer is made from a check without blockers, from a plan whose programs passed their "
        "proof, or from lines of an order that were made, placed and proved.",
    ),
    "offer-agreed": ProblemType(
        "The customer has said yes",
        "A yes is final for the version that was shown, so nothing can be added and the offer "
        "cannot be taken back. Make a new offer for anything else.",
    ),
    "offer-open": ProblemType(
        "A customer is still shown this",
        "An offer holds the check, plan or order that it shows until it is withdrawn or has ended; "
        "one with a yes, until its end. `offers` names them, `ends_at` tells the end of the last.",
    ),
    "offer-ended": ProblemType("The offer has ended", "Ask its maker for a new one."),
    "offer-withdrawn": ProblemType("The offer was taken back", "Ask its maker for a new one."),
    "too-many-replies": ProblemType(
        "There are too many wishes already", "Talk to the maker, who can make a new offer."
    ),
    "bad-idempotency-key": ProblemType(
        "The idempotency key cannot be used",
        "A key is 1 to 255 printable ASCII characters, in quotes or without.",
    ),
    "store-unreachable": ProblemType(
        "The place of the stored files cannot be reached",
        "The operator's settings name it: a folder, or an object store. Try again after the time "
        "in `Retry-After`.",
    ),
    "artifact-damaged": ProblemType(
        "A stored file is damaged or gone", "Send the request again: the result is made anew."
    ),
    "answer-outdated": ProblemType(
        "The answer was stored by an earlier version of the service",
        "Send the request again: it is answered anew, with its files.",
    ),
    "internal-error": ProblemType(
        "A fault of the service",
        "The request may be fine. The log of the service says more, under the id in `instance`.",
    ),
    # lettering and recipes
    "bad-length": ProblemType(
        "The length cannot be read", f"A number in mm, or with a unit. {_RECIPE}"
    ),
    "bad-angle": ProblemType(
        "The angle cannot be read", f"A number in degrees, or with a unit. {_RECIPE}"
    ),
    "bad-feed": ProblemType(
        "The feed cannot be read", f"A number in mm/min, or with a unit. {_RECIPE}"
    ),
    "unknown-unit": ProblemType("The unit is not known", _RECIPE),
    "unknown-font": ProblemType("The font is not known", "`known` lists the fonts of the library."),
    "unknown-set": ProblemType(
        "The set of glyphs is not known",
        "`expected` lists the sets; a text or characters do as well.",
    ),
    "too-many-glyphs": ProblemType(
        "Too many glyphs at once", "Ask for the rest in pages, with `first` and `count`."
    ),
    "unknown-material": ProblemType("The material is not known", "`known` lists the materials."),
    "unknown-cutter": ProblemType(
        "The cutter is not known", "`known` lists the cutters in the rack."
    ),
    "unknown-machine": ProblemType("The machine is not known", "`known` lists the machines."),
    "unknown-stock": ProblemType("The stock is not known", "`known` lists the stock on the rack."),
    "glyph-missing": ProblemType(
        "The font lacks a character",
        "`character`, `codepoint` and `position` name it; `fonts_with_it` lists the fonts of the "
        "library that have it. Change the text or the font, or name one of these as a fallback.",
    ),
    "not-a-font": ProblemType(
        "The file is not a font", "TTF, OTF, TTC, WOFF and WOFF2 files can be used."
    ),
    "font-unreadable": ProblemType("The font file is broken", "Get the file again from its maker."),
    "font-too-large": ProblemType("The font file is too large", _RECIPE),
    "font-without-outlines": ProblemType(
        "The font has no outlines to cut", "Bitmaps and colour pictures cannot be cut."
    ),
    "unknown-axis": ProblemType("The font has no such axis", _RECIPE),
    "axis-out-of-range": ProblemType("The value is outside the range of the font's axis", _RECIPE),
    "unknown-feature": ProblemType("The font has no such feature or axis", _RECIPE),
    "unknown-instance": ProblemType("The font has no such named style", "`known` lists them."),
    "unknown-face": ProblemType(
        "The font file holds no such font", "`faces` lists those that it holds."
    ),
    "artwork-not-found": ProblemType(
        "There is no such drawing", "`/v1/artworks` lists what there is."
    ),
    "unknown-artwork": ProblemType(
        "The drawing is not known",
        "Upload it to `/v1/artworks` first, or send its SVG in the recipe.",
    ),
    "bad-artwork": ProblemType("The drawing is not given as it should be", _RECIPE),
    "not-svg": ProblemType(
        "The file is not an SVG drawing", "SVG files can be used, uncompressed."
    ),
    "not-a-picture": ProblemType("The picture cannot be read", "Save it again as PNG or JPEG."),
    "picture-too-large": ProblemType(
        "The picture has too many pixels", "300 to 600 dpi are enough for any letter."
    ),
    "picture-too-small": ProblemType("The picture has too few pixels", "Scan it finer."),
    "picture-empty": ProblemType(
        "There is nothing to trace in the picture",
        "Draw in dark ink on a light, even page; `threshold` says how dark ink is at least.",
    ),
    "picture-too-noisy": ProblemType(
        "The picture is too noisy to be traced",
        "Scan it on an even page, or ask for more `smoothing_px` and larger specks.",
    ),
    "artwork-unreadable": ProblemType(
        "The drawing cannot be read", "Save it as plain SVG: well-formed, without entities."
    ),
    "artwork-too-large": ProblemType("The drawing's file is too large", _RECIPE),
    "artwork-too-complex": ProblemType(
        "The drawing is too complex", "Join paths, take less detail, or save only what is cut."
    ),
    "artwork-empty": ProblemType(
        "Nothing in the drawing is to be cut", "Shapes need a fill or a line that is seen."
    ),
    "unknown-element": ProblemType(
        "The drawing has no such element or colour", "`known` lists its ids and colours."
    ),
    "artwork-outside-layer": ProblemType("A drawing lies outside its layer", _RECIPE),
    "artwork-without-room": ProblemType(
        "The drawing has no lettering area",
        'Give it a rectangle with the id "letters".',
    ),
    "room-too-small": ProblemType(
        "The words do not fit into the lettering area of the drawing",
        "`needed_width_mm`, `room_width_mm` and their like say by how much.",
    ),
    "fitting-on-lettering": ProblemType("A fitting lies on the lettering", _RECIPE),
    "wrong-face": ProblemType("Work on the wrong side of a layer", _RECIPE),
    "plate-in-pieces": ProblemType(
        "A plate that follows the lettering falls into pieces",
        "Widen its margin or its corner, or bring the words closer.",
    ),
    "bad-path": ProblemType("The path of the baseline cannot be used", _RECIPE),
    "baseline-too-short": ProblemType(
        "The baseline does not hold the text",
        "`needed_mm` and `available_mm` say by how much. Lengthen it, or set less or smaller text.",
    ),
    "font-too-complex": ProblemType("The font's outlines are too complex", _RECIPE),
    "bad-outline": ProblemType("An outline of the font cannot be used", "Try another font."),
    "empty-text": ProblemType("There is nothing to set", "The text needs a visible character."),
    "text-too-long": ProblemType("The text is too long", _RECIPE),
    "bad-request": ProblemType("The request does not make sense", _RECIPE),
    "bad-recipe": ProblemType("The recipe does not make sense", _RECIPE),
    "malformed-toml": ProblemType("The body is not TOML", "The sentence names line and column."),
    "shop-not-found": ProblemType("The shop is not known", "`/v1/shops` lists those that are."),
    "unknown-shop": ProblemType("The shop is not known", "`known` lists the shops."),
    "unknown-version": ProblemType(
        "The shop has never been at this version", "`versions` of the shop lists those it was at."
    ),
    "commit-not-found": ProblemType(
        "Nothing is committed",
        "The order or plan was not committed to its shop, or that was undone.",
    ),
    "no-stored-shop": ProblemType(
        "There is no stock to take it from",
        "Stock is kept by a stored shop. Store one (`PUT /v1/shops/NAME`), name it in the request, "
        "and commit what is made in it.",
    ),
    "nothing-to-take": ProblemType(
        "No sheet of stock is cut",
        "Sheets of the shop are taken; blanks that lie in a fixture are not among them.",
    ),
    "not-to-be-cut": ProblemType(
        "What is not ready to be cut takes no sheets",
        "A commit takes sheets whose programs passed their proof. Put right what the findings and "
        "the proof name, then make it again.",
    ),
    "stock-gone": ProblemType(
        "Sheets that it was planned on are gone",
        "`missing` names each with how many are wanted and there. Another order took them, or the "
        "shop was changed: plan it again with the shop as it is now. Nothing was taken.",
    ),
    "commit-built-on": ProblemType(
        "What was left over has been used",
        "`gone` names the left-overs and `used_by` what took them, which is to be undone first.",
    ),
    "earlier-committed": ProblemType(
        "The order that it revises is committed",
        "Sheets that both have would be taken twice: undo the commit of `earlier` first.",
    ),
    "shop-exists": ProblemType(
        "There is a shop of this name", "Choose another name, or replace it with PUT."
    ),
    "shop-changed": ProblemType(
        "The shop has changed since it was read",
        "Read it again, make your change to what it is now, and send the new `ETag` as `If-Match`.",
    ),
    "bad-entry": ProblemType("Figures that do not fit each other", _RECIPE),
    "bad-shop": ProblemType("The shop does not make sense", _RECIPE),
    "bad-catalogue": ProblemType("The catalogue does not make sense", _RECIPE),
    "missing-field": ProblemType("Something is missing", _RECIPE),
    "unknown-field": ProblemType("Something that is not known here", _RECIPE),
    "unknown-kind": ProblemType("The kind is not known", _RECIPE),
    "unknown-choice": ProblemType("The choice is not one of those there are", _RECIPE),
    "unknown-layer": ProblemType("There is no layer of that name", _RECIPE),
    "duplicate-layer": ProblemType("Two layers have the same name", _RECIPE),
    "out-of-range": ProblemType("A figure is out of range", _RECIPE),
    "too-long": ProblemType("Too many, or too long", _RECIPE),
    "empty-value": ProblemType("Nothing where something is needed", _RECIPE),
    "bad-name": ProblemType("The name cannot be used", _RECIPE),
    "bad-value": ProblemType("A value does not make sense here", _RECIPE),
    "missing-lettering": ProblemType(
        "A layer needs lettering and the recipe has none",
        "Give the recipe lettering, or the layer lettering of its own.",
    ),
    "bad-size": ProblemType("The size does not make sense", _RECIPE),
    "bad-plate": ProblemType("The plate does not make sense", _RECIPE),
    "bad-blank": ProblemType("The blank does not make sense", _RECIPE),
    "no-floor": ProblemType("A groove starts on a floor that is not there", _RECIPE),
    "inlay-too-fine": ProblemType(
        "The inlay is too fine for its corners",
        f"{_RECIPE} A smaller cutter, or larger lettering, leaves room for round corners.",
    ),
    "no-blank": ProblemType("There is no blank to fit lettering to", _RECIPE),
    "blank-not-cut": ProblemType(
        "A blank cannot be cut through",
        f"{_RECIPE} What goes through belongs on a plate, which is cut from stock.",
    ),
    # geometry
    "blank-too-small": ProblemType(
        "The blank does not hold its lettering",
        "Take a larger blank, smaller lettering, the size `fit_blank`, or a smaller safe margin.",
    ),
    "outside-safe-area": ProblemType("Work would leave the safe area of a blank", _RECIPE),
    "plate-too-small": ProblemType(
        "The plate does not hold its lettering", "Make the plate larger or the lettering smaller."
    ),
    "hole-outside-layer": ProblemType("A hole lies outside its layer", _RECIPE),
    "lettering-outside-layer": ProblemType("Lettering lies outside its layer", _RECIPE),
    "too-deep": ProblemType("It is deeper than the layer is thick", _RECIPE),
    "outline-vanishes": ProblemType(
        "Nothing is left of the outline", "Shrink it less, or make the lettering larger."
    ),
    "outline-out-of-reach": ProblemType("An outline lies out of reach", _RECIPE),
    "outline-crosses-itself": ProblemType("An outline crosses itself", _RECIPE),
    "nothing-to-cut": ProblemType("There is nothing to cut", _RECIPE),
    # cutting
    "cutter-too-large": ProblemType("The cutter is larger than what it is to cut", _RECIPE),
    "beam-refused": ProblemType(
        "The material must not be cut by a beam", "Take a router, or another material."
    ),
    # fonts as files
    "file-missing": ProblemType("The form has no file", "Send the font as the field `file`."),
    "store-layout": ProblemType(
        "The store was written by another version", "Start the version that wrote it, or move it."
    ),
}

_GENERAL = ProblemType("The request cannot be met as written", _RECIPE)


def problem_type(code: str) -> ProblemType:
    """Return the type of a code; codes without an entry share a general one."""
    return PROBLEM_TYPES.get(code, _GENERAL)
