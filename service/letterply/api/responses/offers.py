"""Offers as answers for the maker: what is offered, where it stands, what was replied."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from letterply.api.settings import Settings, is_loopback
from letterply.offers import Offer, OrderOffer

__all__ = ["link_of", "offer_document", "order_offer_document", "reach_of"]


def offer_document(offer: Offer, now: str) -> dict[str, Any]:
    """Return an offer as JSON; nothing in it opens the customer's page."""
    where = f"/v1/offers/{offer.id}"
    return {
        "id": offer.id,
        "title": offer.title,
        "state": offer.state(now),
        "price": offer.price,
        "currency": offer.currency,
        "replies": [asdict(reply) for reply in offer.replies],
        "version": offer.version,
        "created_at": offer.created_at,
        "ends_at": offer.ends_at,
        "withdrawn_at": offer.withdrawn_at,
        "maker": offer.maker,
        "note": offer.note,
        "source": {"kind": offer.source, "id": offer.job},
        "pieces": [
            {
                "title": p.title,
                "text": p.text,
                "quantity": p.quantity,
                "size_mm": list(p.size_mm),
                "materials": list(p.materials),
                "version": p.version,
                "line": p.line or None,
            }
            for p in offer.pieces
        ],
        "links": {
            "self": where,
            "pdf": f"{where}.pdf",
            "withdraw": f"{where}/withdraw",
            "source": f"/v1/{offer.source}s/{offer.job}",
        },
    }


def order_offer_document(of_order: OrderOffer, now: str) -> dict[str, Any]:
    """Return an offer as its order shows it: with what has changed since."""
    return {
        **offer_document(of_order.offer, now),
        "current": not of_order.changed,
        "changed": list(of_order.changed),
    }


def link_of(token: str, settings: Settings, base_url: str) -> str:
    """Return the customer's link; it is told once, when the offer is made."""
    base = (settings.public_url or base_url).rstrip("/")
    return f"{base}/offer/{token}/"


def reach_of(settings: Settings) -> str:
    """Return who can open such a link: `machine`, where nobody else can, or `network`."""
    alone = not settings.api_keys and is_loopback(settings.host)
    return "machine" if alone else "network"
