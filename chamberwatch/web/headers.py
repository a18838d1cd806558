"""Headers that every answer carries: nothing from outside, no frames, no guessing."""

from typing import Final

OURS: Final = (
    *("script-src", "style-src", "img-src", "connect-src", "form-action", "manifest-src"),
)
"""What a page may use, and only from this server; everything else not at all."""
NOBODYS: Final = ("default-src", "base-uri", "frame-ancestors")
SENSORS_OF_A_PHONE: Final = (
    *("accelerometer", "camera", "geolocation", "gyroscope", "magnetometer", "microphone"),
    *("payment", "usb"),
)

SECURITY: Final[dict[str, str]] = {
    "Content-Security-Policy": "; ".join(
        [*(f"{what} 'none'" for what in NOBODYS), *(f"{what} 'self'" for what in OURS)]
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # Not no-referrer: browsers would then send "Origin: null" with our own forms.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": ", ".join(f"{what}=()" for what in SENSORS_OF_A_PHONE),
}
