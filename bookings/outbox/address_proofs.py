"""The end of the link that proves an address which could not be reached.

It holds for one address since one instant, and opens nothing but the page that lifts the mark.
"""

from django.utils.crypto import constant_time_compare, salted_hmac

from bookings.models import EmailTrouble


def proof_of(trouble: EmailTrouble) -> str:
    """The proof, in hex."""
    held = f"{trouble.pk}\n{trouble.address}\n{trouble.marked_at}"
    return salted_hmac("bookings.address_proofs", held, algorithm="sha256").hexdigest()


def is_proof(trouble: EmailTrouble, proof: str) -> bool:
    """Whether it proves this address."""
    return constant_time_compare(proof_of(trouble), proof)
