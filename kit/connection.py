"""The way from a kernel to its page."""

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection


class Prompt(ZMQChannelsWebsocketConnection):
    """Sends each message as it comes.

    Left to itself the system holds a short message back until the page has owned to the one before, which says only
    that the kernel works: while a slider moves each picture would come 40 ms late (RFC 896 and RFC 1122, 4.2.3.2).
    """

    def connect(self):
        """Open the way, as JupyterLab does, without the wait."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()
