"""The edge to the broker; the only room that knows paho-mqtt."""
