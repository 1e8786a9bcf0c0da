from bench.browser import needs_browser


@needs_browser
def test_a_practice_piece_is_begun_from_the_first_page(tab):
    tab.get_by_label("Name of the piece").fill("heron")
    tab.get_by_role("button", name="Begin").click()
    tab.wait_for_url("**/piece/*")
    assert "heron" in tab.inner_text("h1")
