"""One module per user action: load, pure calls, save. No rule of any step stands here."""
