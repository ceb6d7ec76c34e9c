"""The form of a worksheet, made from its case model. Pure: texts in, plain data and views out."""

from kitwright.web.forms.form import ACTIONS, Filled, Form, FormView

__all__ = ["ACTIONS", "Filled", "Form", "FormView"]
