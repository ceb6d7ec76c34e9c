"""The application of a test, asked without a network."""

from __future__ import annotations

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from kitwright.web.app import create_app

HOST = "testserver"


def ask(app: FastAPI) -> TestClient:
    """A client that sees a fault as the page it is, not as an exception."""
    return TestClient(app, raise_server_exceptions=False, follow_redirects=False)


@pytest.fixture(scope="session")
def app() -> FastAPI:
    return create_app(lead="mm", hosts=[HOST])


@pytest.fixture
def client(app: FastAPI) -> TestClient:
    return ask(app)
