"""The pages: server-rendered, without JavaScript for everything that matters."""
