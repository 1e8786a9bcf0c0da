"""What an examiner does at the bench by keyboard, step by step."""

from bench.browser import until

READ = {  # of the demonstration piece weir-004: the keys that answer each trait
    "arch_contact": "3", "wear": "3", "coating_cover": "4", "coating_place": "2", "bloom": "noil makes it clear",
    "back_texture": "2", "frame_radius": "m0.48~0.03", "flaw_set": "4", "flaw_state": "2", "inherited_mark": "1h+",
    "recut": "1", "tool_mark": "xno time", "relief_edge": "2", "matrix_colour": "3", "bubbles": "2h", "shell": "1",
    "grog": "2", "crack_net": "2", "crack_lip": "1", "size": "m43.52~0.1|31.78~0.1", "thickness": "m7.4~0.1", "crown_gap": "m22~3",
}  # fmt: skip
SECRET = "seven grey herons stood still"  # noqa: S105 - of a key that lives for a test


def ready(page):
    page.wait_for_selector("#work[data-ready]")


def saved(page):
    until(page, "document.getElementById('saved').textContent === 'Saved'")


def press(page, keys):
    """Press *keys* as an examiner would: the digit or letter, then what is typed in the field."""
    page.keyboard.press(keys[0])
    rest = keys[1:]
    if keys[0] in "nxm":
        for i, part in enumerate(rest.split("|")):
            if i:
                page.keyboard.press("Enter")
            value, _, u = part.partition("~")
            page.keyboard.type(value)
            if u:
                page.keyboard.press("Tab")
                page.keyboard.type(u)
        page.keyboard.press("Escape")
    else:
        for key in rest:
            page.keyboard.press(key)


def tab_to(page, selector):
    """Go on with the tab key to the first that *selector* means."""
    for _ in range(200):
        page.keyboard.press("Tab")
        if page.evaluate("at => document.activeElement.matches(at)", selector):
            return
    raise AssertionError(f"the tab key does not lead to {selector}")


def current(page):
    return page.evaluate("document.querySelector('.trait:not([hidden])').dataset.trait")


def practise(page, name="heron"):
    page.get_by_label("Name of the piece").fill(name)
    page.get_by_role("button", name="Practise").click()
    page.wait_for_url("**/piece/*")
    ready(page)


def take_in(page, root, piece):
    page.goto(f"{root}/intake")
    page.keyboard.press("Tab")
    page.get_by_label("Id:").focus()
    page.keyboard.type(piece)
    page.get_by_label("Story").fill("found in a boat locker")
    page.get_by_label("Story").press("Tab")
    page.keyboard.type("40")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{root}/#examiner")
    until(page, "document.activeElement.name === 'examiner'")
    page.keyboard.type("A")
    page.keyboard.press("Enter")
    page.wait_for_url("**/piece/*")
    ready(page)


def state_terms(tab):
    """State propositions and engagement on the page of terms, by keyboard."""
    tab.wait_for_url("**/terms")
    for side, state in (("For", "M04"), ("Against", "M12")):
        tab.get_by_label(f"{side}: Mould", exact=True).focus()
        tab.keyboard.type(state)
    tab.get_by_label("Client", exact=True).focus()
    for text in ("C", "sale", "C", "2026-01-12", "none", "nothing"):
        tab.keyboard.type(text)
        tab.keyboard.press("Tab")
    tab.get_by_role("button", name="Keep").press("Enter")
    until(tab, "document.getElementById('said').textContent === 'Kept.'")


def make_key(tab, name="north"):
    """Make a key on a page that offers it."""
    tab.get_by_label("Name").type(name)
    for label in ("Passphrase, 12", "The same again"):
        tab.get_by_label(label).type(SECRET)
    tab.keyboard.press("Enter")


def certify(tab):
    """Make a key and sign, by keyboard; return the signed file."""
    tab.get_by_role("link", name="Certificate").press("Enter")
    make_key(tab)
    return signed(tab)


def signed(tab):
    """Sign with the key that was made, by keyboard; return the signed file."""
    tab.wait_for_selector("form.sign")
    tab.get_by_label("Its passphrase").type(SECRET)
    tab.keyboard.press("Enter")
    tab.wait_for_selector(".done")
    with tab.expect_download() as got:
        tab.locator(".done").get_by_role("link", name="signed file").press("Enter")
    return got.value.path().read_bytes()
