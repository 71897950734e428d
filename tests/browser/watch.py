"""What a page must never do while a test uses it."""

from dataclasses import dataclass, field

from playwright.sync_api import BrowserContext, ConsoleMessage, Page, Route

# Said for every answer from 400 on, which tests of refusals cause on purpose.
EXPECTED = "Failed to load resource"


@dataclass  # without slots: the driver keeps notes on its listeners
class Watch:
    """Refuses requests that leave `origin`, and keeps them and every script error for the end of the test."""

    origin: str
    strays: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    def over(self, context: BrowserContext) -> None:
        context.route("**/*", self.decide)
        context.on("page", self.listen)

    def decide(self, route: Route) -> None:
        url = route.request.url
        if url.startswith((f"{self.origin}/", "data:", "blob:")):
            route.continue_()
        else:
            self.strays.append(url)
            route.abort()

    def listen(self, page: Page) -> None:
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("console", self.hear)

    def hear(self, message: ConsoleMessage) -> None:
        if message.type == "error" and EXPECTED not in message.text:
            self.errors.append(message.text)

    def settle(self) -> None:
        assert not self.strays, f"the page asked other servers: {self.strays}"
        assert not self.errors, f"the page reported errors: {self.errors}"
