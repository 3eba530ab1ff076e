"""The service as a process: sockets, signals, limits on connections, several processes where wanted."""
