"""Addresses of orders, of what was left out, and of order guides."""

from __future__ import annotations

from django.urls import path, re_path

from purchasing.web import order, order_papers, order_posts, orders, runs, suppliers

urlpatterns = [
    path("orders/", orders.orders, name="orders"),
    path("orders/runs/<int:run_id>/", runs.run, name="run"),
    path("orders/runs/<int:run_id>/order/", runs.run_order, name="run_order"),
    path("orders/approve/", orders.orders_approve, name="orders_approve"),
    *(
        path(f"orders/<str:number>/{where}", view, name=name)
        for where, view, name in (
            ("", order.order, "order"),
            ("try/", order.order_try, "order_try"),
            ("lines/", order_posts.order_change, "order_change"),
            ("add/", order_posts.order_add, "order_add"),
            ("lines/<int:line>/offer/", order_posts.order_offer, "order_offer"),
            ("lines/<int:line>/give-up/", order_posts.order_give_up, "order_give_up"),
            ("skip/", order_posts.order_skip, "order_skip"),
            ("take-up/", order_posts.order_take_up, "order_take_up"),
            ("approve/", order_posts.order_approve, "order_approve"),
            ("undo/", order_posts.order_undo, "order_undo"),
            ("send/", order_posts.order_send, "order_send"),
            ("sent/", order_posts.order_mark, "order_mark"),
            ("answer/", order_posts.order_answer, "order_answer"),
            ("confirm/", order_posts.order_confirm, "order_confirm"),
            ("cancel/", order_posts.order_cancel, "order_cancel"),
            ("elsewhere/", order_posts.order_elsewhere, "order_elsewhere"),
            ("phone/", order_papers.order_phone, "order_phone"),
        )
    ),
    re_path(
        r"^orders/(?P<number>[^/]+)/order\.(?P<kind>pdf|xml|csv)$",
        order_papers.order_file,
        name="order_file",
    ),
    path("suppliers/", suppliers.suppliers, name="suppliers"),
    *(
        path(f"suppliers/<str:code>/{where}", view, name=name)
        for where, view, name in (
            ("", suppliers.supplier, "supplier"),
            ("change/", suppliers.supplier_change, "supplier_change"),
            ("closed/", suppliers.closure_add, "closure_add"),
            ("closed/<str:day>/open/", suppliers.closure_remove, "closure_remove"),
            ("offers/add/", suppliers.offer_add, "offer_add"),
            ("offers/<int:offer>/", suppliers.offer_change, "offer_change"),
            ("offers/<int:offer>/retire/", suppliers.offer_retire, "offer_retire"),
        )
    ),
]
