"""What a customer is told, on the page and on paper, in every language: values in, sentences out.

Braces stand for what is put in. What people wrote stays as it is, names of their own materials
too.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from letterply.catalogue import material_name_in
from letterply.offers.model import Piece, Reply, ReplyKind
from letterply.offers.words import moment_of, size_words

__all__ = ["ENGLISH", "LANGUAGES", "Words"]


@dataclass(frozen=True, slots=True)
class Words:
    """What is said; braces stand for what is put in."""

    language: str = "en"
    own_name: str = "English"
    months: tuple[str, ...] = (
        "January", "February", "March", "April", "May", "June", "July", "August", "September",
        "October", "November", "December",
    )  # fmt: skip
    day: str = "{day} {month} {year}"
    moment: str = "{day}, {time} UTC"
    groups: str = ","
    point: str = "."
    sides: str = "{size}, {thick} thick"
    pieces: str = "{count} pieces"
    made_by: str = "From {maker}"
    seen: str = "{title}, seen from the front"
    size: str = "Size"
    materials: str = "Made of"
    number: str = "How many"
    price: str = "Price"
    until: str = "You can reply until the end of {day} (UTC)."
    page: str = "page"
    open_until: str = "This offer is open until {day}."
    paper: str = "Take it along on paper (PDF)"
    ask: str = "Shall it be made?"
    name: str = "Your name"
    yes: str = "Yes, make it as it is shown here"
    wish: str = "I wish for something else"
    text: str = "What should be different, or anything to add"
    final: str = "A yes is final for what is shown on this page: it is made from it."
    send: str = "Send the reply"
    said_yes: str = "Yes from {name}"
    said_wish: str = "A wish from {name}"
    thanks_yes: str = "Thank you. The maker has your yes, and makes what is shown here."
    thanks_wish: str = (
        "Thank you. The maker has your wish, and may send you another page. You can reply again "
        "here, too."
    )
    wrong: str = "The reply was not sent. Please put this right first:"
    version: str = "Version {version}"
    holder: str = "Whoever has the address of this page can see it and reply to it."
    gone_ended: str = "This offer has ended. Ask its maker for a new one."
    gone_withdrawn: str = "The maker has taken this offer back. Ask for a new one."
    gone_agreed: str = "There is a yes to this offer already, and a yes is final."
    gone_replies: str = "There are many wishes here already. Talk to the maker."
    gone_fast: str = "That was a little too often. Wait a minute and load the page again."
    gone_form: str = "This reply could not be read. Go back and send it from the page."
    gone_busy: str = "This page cannot be shown just now. Load it again in a minute."
    gone: str = "There is no offer at this address. Perhaps a piece of the link is missing."
    kept: str = "Kept with the maker: {said}, {moment}."
    back: str = "Back to the offer"
    no_name: str = "Your name is missing."
    long_name: str = "The name is too long."
    no_kind: str = "Neither a yes nor a wish."
    no_text: str = "The wish is missing."
    long_text: str = "The text is too long."

    def day_of(self, moment: str) -> str:
        """Return the day of an instant."""
        at = moment_of(moment)
        return self.day.format(day=at.day, month=self.months[at.month - 1], year=at.year)

    def moment_of(self, moment: str) -> str:
        """Return an instant to the minute."""
        return self.moment.format(day=self.day_of(moment), time=f"{moment_of(moment):%H:%M}")

    def last_day(self, ends_at: str) -> str:
        """Return the last day of an offer that ends at an instant."""
        return self.day_of((moment_of(ends_at) - timedelta(milliseconds=1)).isoformat())

    def price_of(self, price: float, currency: str) -> str:
        """Return a price.

        >>> ENGLISH.price_of(1234.5, "EUR"), LANGUAGES[1].price_of(1234.5, "EUR")
        ('1,234.50 EUR', '1.234,50 EUR')

        """
        whole, _, cents = f"{price:,.2f}".partition(".")
        return f"{whole.replace(',', self.groups)}{self.point}{cents} {currency}"

    def size_of(self, piece: Piece) -> str:
        """Return the size of a piece in the units that it was offered in."""
        size, thick = (words.replace(".", self.point) for words in size_words(piece))
        return self.sides.format(size=size, thick=thick)

    def materials_of(self, piece: Piece) -> str:
        """Return what a piece is made of, the uppermost layer first."""
        parted = (layer.rpartition(", ") for layer in piece.materials)
        return "; ".join(
            f"{material_name_in(self.language, name)}{comma}"
            f"{thick.replace('.', self.point) if comma else thick}"
            for name, comma, thick in parted
        )

    def facts_of(self, piece: Piece) -> tuple[str, ...]:
        """Return size, materials and number of a piece, a line each."""
        facts = (self.size_of(piece), self.materials_of(piece))
        many = self.pieces.format(count=piece.quantity)
        return (*facts, many) if piece.quantity > 1 else facts

    def said(self, reply: Reply) -> str:
        """Return who said what, and when."""
        form = self.said_yes if reply.kind is ReplyKind.YES else self.said_wish
        return f"{form.format(name=reply.name)}, {self.moment_of(reply.given_at)}"

    def mistake(self, field: str, code: str) -> str:
        """Return what is wrong with a reply."""
        kind = "long" if code == "too-long" else "no"
        return str(getattr(self, f"{kind}_{field}"))


ENGLISH = Words()
_GERMAN = Words(
    language="de",
    own_name="Deutsch",
    months=(
        "Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September",
        "Oktober", "November", "Dezember",
    ),
    day="{day}. {month} {year}",
    moment="{day}, {time} UTC",
    groups=".",
    point=",",
    sides="{size}, {thick} dick",
    pieces="{count} Stück",
    made_by="Von {maker}",
    seen="{title}, von vorn gesehen",
    size="Größe",
    materials="Gemacht aus",
    number="Wie viele",
    price="Preis",
    until="Sie können bis zum Ende des {day} (UTC) antworten.",
    page="Seite",
    open_until="Dieses Angebot gilt bis zum {day}.",
    paper="Auf Papier mitnehmen (PDF)",
    ask="Soll es gemacht werden?",
    name="Ihr Name",
    yes="Ja, so machen, wie es hier gezeigt ist",
    wish="Ich wünsche mir etwas anderes",
    text="Was anders sein soll, oder was noch zu sagen ist",
    final="Ein Ja ist endgültig für das, was auf dieser Seite gezeigt ist: Danach wird es gemacht.",
    send="Die Antwort senden",
    said_yes="Ja von {name}",
    said_wish="Ein Wunsch von {name}",
    thanks_yes="Danke. Ihr Ja ist angekommen, und es wird gemacht, was hier gezeigt ist.",
    thanks_wish=(
        "Danke. Ihr Wunsch ist angekommen; vielleicht bekommen Sie eine andere Seite. Sie können "
        "auch hier noch einmal antworten."
    ),
    wrong="Die Antwort wurde nicht gesendet. Bitte erst dies in Ordnung bringen:",
    version="Fassung {version}",
    holder="Wer die Adresse dieser Seite hat, kann sie sehen und auf sie antworten.",
    gone_ended="Dieses Angebot ist abgelaufen. Fragen Sie nach einem neuen.",
    gone_withdrawn="Dieses Angebot ist zurückgenommen. Fragen Sie nach einem neuen.",
    gone_agreed="Zu diesem Angebot gibt es schon ein Ja, und ein Ja ist endgültig.",
    gone_replies="Hier stehen schon viele Wünsche. Sprechen Sie mit der Werkstatt.",
    gone_fast="Das war ein wenig zu oft. Warten Sie eine Minute und laden Sie die Seite noch "
    "einmal.",
    gone_form="Diese Antwort war nicht zu lesen. Gehen Sie zurück und senden Sie sie von der Seite "
    "aus.",
    gone_busy="Diese Seite kann gerade nicht gezeigt werden. Laden Sie sie in einer Minute noch "
    "einmal.",
    gone="Unter dieser Adresse gibt es kein Angebot. Vielleicht fehlt ein Stück des Links.",
    kept="In der Werkstatt festgehalten: {said}, {moment}.",
    back="Zurück zum Angebot",
    no_name="Ihr Name fehlt.",
    long_name="Der Name ist zu lang.",
    no_kind="Weder ein Ja noch ein Wunsch.",
    no_text="Der Wunsch fehlt.",
    long_text="Der Text ist zu lang.",
)  # fmt: skip
LANGUAGES = (ENGLISH, _GERMAN)
"""What a customer can choose among."""
