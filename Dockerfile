# One image for the web process, the worker, beat and the migrations. The first stage installs, the second runs.
FROM python:3.11.13-slim-bookworm AS build
ENV PIP_NO_CACHE_DIR=1 PIP_DISABLE_PIP_VERSION_CHECK=1 PYTHONDONTWRITEBYTECODE=1
WORKDIR /srv/levare
RUN python -m venv /opt/levare
COPY requirements/base.txt requirements/metrics.txt requirements/
RUN /opt/levare/bin/pip install --require-hashes -r requirements/base.txt
# docker compose build --build-arg METRICS=yes: figures at /metrics/, for whoever has the METRICS_TOKEN.
ARG METRICS=no
RUN [ "$METRICS" = no ] || /opt/levare/bin/pip install --require-hashes -r requirements/metrics.txt
COPY manage.py pyproject.toml ./
COPY config config
COPY accounts accounts
COPY bookings bookings
# Collecting files needs settings and no school's keys: these are made for this one command, and nothing is sent.
# What was collected, and what a developer's umask may have closed, is then open to the user that the image runs as.
RUN LEVARE_PROFILE=production LEVARE_VAR=/tmp/levare STATIC_ROOT=/srv/levare/static \
    SECRET_KEY="$(/opt/levare/bin/python -c 'import secrets; print(secrets.token_urlsafe(50))')" \
    NOTE_KEYS="$(/opt/levare/bin/python -c 'import base64, os; print(base64.b64encode(os.urandom(32)).decode())')" \
    ALLOWED_HOSTS=localhost BASE_URL=https://localhost ORGANIZER_EMAIL=nobody@localhost EMAIL_URL=smtp://localhost \
    /opt/levare/bin/python manage.py collectstatic --noinput \
    && chmod -R a+rX /srv/levare

FROM python:3.11.13-slim-bookworm
RUN useradd --system --uid 10001 --no-create-home --shell /usr/sbin/nologin levare \
    && install -d -o levare -m 700 /srv/levare/var
ENV PATH=/opt/levare/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 \
    LEVARE_PROFILE=production LEVARE_VAR=/srv/levare/var STATIC_ROOT=/srv/levare/static
WORKDIR /srv/levare
COPY --from=build /opt/levare /opt/levare
COPY --from=build /srv/levare /srv/levare
USER levare
EXPOSE 8000
CMD ["gunicorn", "--config", "python:config.gunicorn", "config.wsgi"]
