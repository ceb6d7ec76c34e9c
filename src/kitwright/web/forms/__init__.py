"""The form of a worksheet, made from its case model. Pure: texts in, plain data and views out."""

from kitwright.web.forms.form import ACTIONS, WHAT_IF, Filled, Form, FormView

__all__ = ["ACTIONS", "WHAT_IF", "Filled", "Form", "FormView"]
