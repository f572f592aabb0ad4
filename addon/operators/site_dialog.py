"""What the operators that change the site share: numbers asked for, a dialog of switches, and how it is kept."""

from __future__ import annotations

from typing import Any

import bpy

from ..bridge.kept_document import KeptDocument, keep_document, write_text
from ..bridge.records import note_overrides
from ..core_calcs.document.document import SkeletonDocument
from ..translations.phrases import look_up_label
from .quantities import unit_scale
from .step import AS_GIVEN, NeedsSkeleton


def ask_number(name: str, description: str, default: float, most: float = 1e9) -> Any:
    """A property for a plain number, not below 0."""
    return bpy.props.FloatProperty(
        name=name, description=description, default=default, min=0.0, max=most, precision=3, step=1, options=AS_GIVEN
    )


def ask_whether(name: str, description: str) -> Any:
    """A property for yes or no."""
    return bpy.props.BoolProperty(name=name, description=description, options=AS_GIVEN)


def write_site(context: bpy.types.Context, before: SkeletonDocument, after: SkeletonDocument) -> None:
    """Keep the changed document, with a record where factors were changed."""
    write_text(context.scene.counterpoise.document, note_overrides(context.scene, before, after))


class SiteDialog(NeedsSkeleton):
    """Mixed into an operator that asks: shows `fields`, each behind the switch that it needs, by its name."""

    fields: tuple[tuple[str, str], ...] = ()
    width = 300

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.take(keep_document(context.scene), unit_scale(context))
        return context.window_manager.invoke_props_dialog(self, title=self.title(), width=self.width)

    def title(self) -> str:
        """What stands over the dialog."""
        return look_up_label(self.bl_label)

    def take(self, kept: KeptDocument, metres: float) -> None:
        raise NotImplementedError

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        for name, switch in self.fields:
            row = self.layout.row()
            row.enabled = not switch or bool(getattr(self, switch))
            row.prop(self, name)
