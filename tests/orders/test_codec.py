"""Values of orders come back from their JSON as they were."""

from letterply.orders.codec import plain, value_of
from letterply.orders.pipeline.layouts import Laid
from letterply.said import Said, say
from letterply.sheets import Unplaced


def test_what_found_no_room_is_stored_with_its_words_as_text():
    why = say("every sheet of {material} is full", material="mdf")
    laid = Laid((), (Unplaced("1.1.A.face", "mdf", 3.0, why),))
    stored = plain(laid)
    assert stored["unplaced"][0]["why"] == "every sheet of mdf is full"
    back = value_of(Laid, stored)
    assert back == laid
    assert isinstance(back.unplaced[0].why, Said)
